"""What names and open cells let expect: sugars, ferments, vapours; and glutamate."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.names import is_neat_essential_oil
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions

CLEAN = {"food_use": "yes", "sodium_mg_per_g": 0, "caffeine_mg_per_g": 0, "ethanol_g_per_g": 0}
CLEAN |= {"sweeteners": "none", "allergens": "none"}
WATER = Base(base_id="water", name="Spring water", sodium_mg_per_100g=0, ethanol_g_per_100g=0, allergens="none")


def texts(found, kind=None):
    return " | ".join(c.text for c in found if kind is None or c.kind == kind)


def of(item, dose=10.0, tasters=(), **more):
    shelf = Shelf.of([WATER], [item], tasters)
    return cautions(Recipe("water", {item.flavouring_id: dose}), shelf, tasters, **more)


@pytest.mark.parametrize(
    ("avoided", "facts", "why"),
    [
        ("fructose", {"sugars_g_per_g": 0.6, "polyols_g_per_g": 0}, "contains sugars, and no tag says fructose-free"),
        ("fruttosio", {"sugars_g_per_g": 0, "polyols_g_per_g": 0.7}, "contains polyols"),
        ("fructose", {}, "may contain fructose: its sugars are not stated"),
        ("Zucker", {"sugars_g_per_g": 0.6}, "contains sugars, and no tag says sugar-free"),
        ("fructose", {"sugars_g_per_g": 0.6, "tags": "fructose-free"}, None),
        ("fructose", {"sugars_g_per_g": 0, "polyols_g_per_g": 0}, None),
        ("sugar", {"sugars_g_per_g": 0, "polyols_g_per_g": 0.7}, None),
    ],
)
@pytest.mark.parametrize("column", ["avoid", "avoid_allergens"])
def test_who_cannot_take_a_sugar_is_kept_from_what_may_hold_it(avoided, facts, why, column):
    """Hereditary fructose intolerance: fructose, sucrose and sorbitol do harm (from memory)."""
    syrup = Flavouring(flavouring_id="dew", name="Morning dew syrup", **CLEAN, **facts)
    ana = Taster(taster="ana", **{column: avoided})
    said = [barred.why for barred in forbidden(["dew"], Shelf.of([], [syrup]), ana)]
    assert (why is None and not said) or any(why in one for one in said)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Hibiscus kombucha", "more the longer it stands, and live cultures"),
        ("Ginger beer concentrate", "bottles may burst"),
        ("Butter aroma", "damaged the lungs of people who mix flavourings"),
        ("Diacetyl 10 % in PG", "open it away from the face"),
        ("Maltitol syrup", "loosen the bowels"),
        ("Chicory root fibre", "loosen the bowels"),
        ("Konjac powder", "people have choked on it"),
        ("Carambola drops", "kidney disease"),
        ("Bentonite", "lead and arsenic"),
        ("Cranberry extract", "blood thinners"),
    ],
)
def test_names_of_what_hurts_some_are_asked_about_once(name, said):
    bottle = Flavouring(flavouring_id="b", name=name, **CLEAN)
    assert said in texts(of(bottle), "name")
    read = Flavouring(flavouring_id="b", name=name, tags="label-read", **CLEAN)
    assert said not in texts(of(read), "name")


@pytest.mark.parametrize(
    "name", ["Almost peach", "Propane-1,2-diol drops", "Sugar-free vanilla syrup", "Butter biscuit"]
)
def test_names_that_only_look_like_them_are_let_be(name):
    found = texts(of(Flavouring(flavouring_id="b", name=name, **CLEAN)), "name")
    assert not any(word in found for word in ("cultures", "lungs", "bowels", "stomach"))


@pytest.mark.parametrize(
    ("name", "facts", "stops"),
    [
        ("Hibiscus kombucha", {}, True),
        ("Rum and raisin", {}, True),
        ("Hibiscus kombucha", {"ethanol_g_per_100g": 0.1}, False),
        ("Alcohol-free ginger brew", {}, False),
    ],
)
def test_what_ferments_by_its_name_is_not_for_a_child_where_nobody_states_its_ethanol(name, facts, stops):
    open_cells = {**CLEAN, "ethanol_g_per_g": None}
    drink = Base(base_id="b", name=name, serving_g=300, allergens="none", **facts)
    shelf = Shelf.of([drink], [Flavouring(flavouring_id="x", name="Plum", **open_cells)])
    kid = Taster(taster="kid", body_mass_kg=20, age_years=6)
    said = [
        c.text for c in cautions(Recipe("b", {"x": 1.0}), shelf, [kid]) if c.severity == "stop" and "alcohol" in c.text
    ]
    assert bool(said) is stops
    assert not stops or any(one.startswith("perhaps ") for one in said)
    assert not [c for c in cautions(Recipe("b"), shelf) if c.severity == "stop"]


def test_glutamate_is_held_against_its_daily_intake():
    """EFSA Journal 2017;15(7):4910: group ADI 30 mg/kg body mass, as glutamic acid (from memory)."""
    umami = Flavouring(flavouring_id="umami", name="Umami", **{**CLEAN, "sweeteners": "monosodium glutamate:1000"})
    people = [Taster(taster="kid", body_mass_kg=20, age_years=6)]
    found = [c for c in of(umami, 4.0, people, serving_g=200) if "glutamate" in c.text]
    assert [c.severity for c in found] == ["warn"]
    assert found[0].text.startswith("glutamate: 803 mg a day is 134 % of the 600 mg a day for kid (20 kg)")
    assert "suggests glutamate, which is not stated" in texts(
        of(Flavouring(flavouring_id="m", name="MSG", **CLEAN)), "name"
    )


@pytest.mark.parametrize(
    ("name", "carrier", "neat"),
    [
        ("Clove EO", "", True),
        ("Clove essential oil", "propylene glycol:0.01", True),
        ("Clove essential oil", "mct:0.9", False),
        ("Clove essential oil", "mct", False),
        ("Theo's drops", "", False),
    ],
)
def test_an_essential_oil_is_neat_until_half_of_it_is_a_carrier(name, carrier, neat):
    item = Flavouring(flavouring_id="x", name=name, carrier=carrier)
    assert is_neat_essential_oil(item, Shelf.of([], [item])) is neat
