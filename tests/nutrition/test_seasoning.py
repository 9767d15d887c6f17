"""Step 0 of a base: sweet, salt and acid in it, as a version with a composition of its own."""

import pytest

from pairing import Base, Flavouring, Recipe
from pairing.errors import TableError
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import allergens_of, compose
from pairing.nutrition.seasoning import in_order, seasoned, sweet_again

OAT = Base(
    base_id="oat",
    name="Oat drink",
    energy_kcal_per_100g=45,
    sugars_g_per_100g=4,
    sodium_mg_per_100g=38,
    acids_g_per_100g=0,
    sweeteners="none",
    ph=6.8,
    density_g_per_ml=1.03,
    serving_g=250,
    allergens="gluten",
)
SYRUP = Flavouring(
    flavouring_id="syrup",
    name="Beet syrup",
    role="seasoning",
    energy_kcal_per_g=3,
    sugars_g_per_g=0.7,
    sodium_mg_per_g=0,
    acids_g_per_g=0,
    sweeteners="none",
    allergens="none",
)
SALT = Flavouring(
    flavouring_id="salt",
    name="Table salt",
    role="seasoning",
    energy_kcal_per_g=0,
    sugars_g_per_g=0,
    sodium_mg_per_g=393,  # 22.99 ÷ 58.44 g sodium per g sodium chloride, molar masses
    acids_g_per_g=0,
    sweeteners="none",
    allergens="none",
)
VERJUICE = Flavouring(
    flavouring_id="verjuice", name="Verjuice", role="seasoning", acids_g_per_g=0.03, allergens="sulphites"
)
PLUM = Flavouring(flavouring_id="plum", name="Plum")
SHELF = Shelf.of([OAT], [PLUM, VERJUICE, SALT, SYRUP])


def test_composition_follows_by_mass():
    found = seasoned(Recipe("oat", {"salt": 1.0, "syrup": 20.0}), SHELF, "Oat, seasoned")
    whole = compose(found, Shelf.of([OAT, found], [SALT, SYRUP]))
    assert (whole.base_id, whole.version_of, whole.serving_g) == ("oat-seasoned", "oat", 250)
    assert whole.sodium_mg_per_100g == pytest.approx(38 * 0.979 + 39.3)
    assert whole.sugars_g_per_100g == pytest.approx(4 * 0.979 + 1.4)
    assert whole.energy_kcal_per_100g == pytest.approx(45 * 0.979 + 6)
    assert (whole.acids_g_per_100g, whole.allergens, whole.ph) == (0, frozenset({"gluten"}), 6.8)


def test_what_is_not_known_stays_unknown():
    found = seasoned(Recipe("oat", {"verjuice": 5.0, "salt": 20.0}), SHELF, "Sharp")
    whole = compose(found, Shelf.of([OAT, found], [SALT, VERJUICE]))
    assert whole.ph is None, "acid went in"
    assert whole.density_g_per_ml is None, "25 g in a kg changes it"
    assert whole.sugars_g_per_100g is None
    assert allergens_of(whole, SHELF)[0] >= {"gluten", "sulphites"}


def test_sweet_comes_first_then_salt_then_acid_then_aroma():
    assert in_order(["plum", "verjuice", "salt", "syrup"], SHELF) == ("syrup", "salt", "verjuice", "plum")
    found = seasoned(Recipe("oat", {"verjuice": 1.0, "salt": 1.0, "syrup": 1.0}), SHELF, "x")
    assert list(found.made_from) == ["oat", "syrup", "salt", "verjuice"]


@pytest.mark.parametrize(
    ("doses", "name", "says"),
    [
        ({"plum": 1.0}, "x", "plum is no seasoning"),
        ({"salt": None}, "x", "dose of salt is open"),
        ({}, "x", "nothing seasons oat"),
        ({"salt": 1.0}, "…", "no name for a base"),
        ({"salt": 1.0}, "Oat", "oat stands for another base"),
    ],
)
def test_what_cannot_be_kept_is_refused(doses, name, says):
    with pytest.raises(TableError, match=says):
        seasoned(Recipe("oat", doses), SHELF, name)


def test_a_sweet_base_is_tasted_again_after_an_aroma_and_what_sweetened_it_is_named():
    sweet = Base(base_id="sweet", name="Sweet oat", version_of="oat", made_from="oat:95;syrup:5")
    shelf = Shelf.of([OAT, sweet], [SYRUP, SALT, Flavouring(flavouring_id="plum", name="Plum")])
    assert sweet_again("sweet", ["plum"], shelf) == ("syrup",)
    assert sweet_again("oat", ["plum"], shelf) == sweet_again("sweet", ["salt"], shelf) == ()
