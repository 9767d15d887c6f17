"""What is in the parts of a base, and in the flavouring and diluent of a pre-dilution, is in the drink."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.composition import allergens_of
from pairing.nutrition.content import content, polyols_g_per_g, unmeasured_of
from pairing.nutrition.names import stated_mg_per_g
from pairing.nutrition.parts import carriers_of, made_of
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions

SYRUP = Flavouring(
    flavouring_id="syr",
    name="Syrup",
    sweeteners="aspartame:100",
    carrier="propylene glycol:0.3",
    allergens="none",
    tags="artificial",
)
MILK = Base(base_id="milk", name="Milk", allergens="none", tags="fresh")
MIXED = Base(base_id="mixed", name="Flavoured milk", made_from="milk:200;syr:50")
DEEP = Base(base_id="deep", name="Thin flavoured milk", made_from="mixed:50;water:50", tags="thin")
CIDER = Base(base_id="cider", name="Cider", allergens="sulphites", tags="fermented")
CLOVE = Flavouring(flavouring_id="clove", name="Clove", allergens="none", carrier="water")
THIN = Flavouring(
    flavouring_id="clove-1in100-cider", name="Thin clove", version_of="clove", allergens="none", carrier="water"
)
SHELF = Shelf.of([MILK, MIXED, DEEP, CIDER], [SYRUP, CLOVE, THIN])


def test_carriers_and_sweeteners_of_parts_are_counted_by_their_share():
    held = content({"mixed": 250.0}, SHELF)
    assert held.mg["propylene glycol"] == pytest.approx(15_000)
    assert held.mg["aspartame"] == pytest.approx(5000)
    assert content({"deep": 500.0}, SHELF).mg["propylene glycol"] == pytest.approx(15_000)
    assert carriers_of(DEEP, SHELF) == pytest.approx({"propylene glycol": 0.03})
    assert content({"milk": 200.0, "syr": 50.0}, SHELF).mg == held.mg


def test_polyols_of_parts_are_counted():
    sweet = Flavouring(flavouring_id="sweet", name="Sweet", sweeteners="xylitol:1000", allergens="none")
    bulk = Base(base_id="bulk", name="Bulk", polyols_g_per_100g=50)
    both = Base(base_id="both", name="Both", made_from="sweet:10;bulk:10;milk:80")
    shelf = Shelf.of([MILK, bulk, both], [sweet])
    assert polyols_g_per_g(both, shelf) == pytest.approx(0.1 + 0.05)
    assert "15 % polyols" in " | ".join(c.text for c in cautions(Recipe("both"), shelf))


def test_what_a_base_states_itself_counts_as_stated():
    own = Base(base_id="own", name="Own", made_from="milk:200;syr:50", sweeteners="aspartame:10")
    assert content({"own": 100.0}, Shelf.of([MILK, own], [SYRUP])).mg["aspartame"] == pytest.approx(10)


@pytest.mark.parametrize("base_id", ["mixed", "deep"])
def test_cautions_see_the_parts(base_id):
    found = " | ".join(c.text for c in cautions(Recipe(base_id), SHELF))
    assert "propylene glycol: " in found
    assert f"aspartame ({base_id}): a source of phenylalanine" in found


@pytest.mark.parametrize(
    ("avoided", "item", "reason"),
    [
        ("propylene glycol", "mixed", "mixed contains propylene glycol"),
        ("aspartame", "deep", "deep contains aspartame"),
        ("syr", "mixed", "mixed is made with syr"),
        ("syr", "deep", "deep is made with syr"),
        ("mixed", "deep", "deep is made with mixed"),
        ("artificial", "deep", "deep is made with syr, tagged artificial"),
        ("thin", "deep", "deep is tagged thin"),
        ("cider", "cider", "cider is avoided"),
        ("cider", "clove-1in100-cider", "clove-1in100-cider is made with cider"),
        ("fermented", "clove-1in100-cider", "clove-1in100-cider is made with cider, tagged fermented"),
        ("clove", "clove-1in100-cider", "clove-1in100-cider is a version of clove"),
    ],
)
def test_what_is_avoided_is_avoided_as_a_part_too(avoided, item, reason):
    assert reason in map(str, forbidden([item], SHELF, Taster(taster="ana", avoid=avoided)))


def test_a_part_that_does_not_state_its_carrier_may_hold_anything():
    silent = Flavouring(flavouring_id="syr", name="Syrup", sweeteners="none", allergens="none")
    plain = Base(base_id="milk", name="Milk", sweeteners="none")
    shelf = Shelf.of([plain, MIXED], [silent])
    found = forbidden(["mixed"], shelf, Taster(taster="ana", avoid="propylene glycol"))
    assert [str(one) for one in found] == [
        "mixed may contain propylene glycol: its sweeteners or carrier are not stated"
    ]


def test_allergens_of_a_diluent_are_those_of_the_dilution():
    assert allergens_of(THIN, SHELF) == ({"sulphites"}, ())
    assert allergens_of(THIN, Shelf.of([], [CLOVE, THIN])) == (frozenset(), ())


def test_a_new_version_is_not_made_of_the_old_one():
    newer = Flavouring(flavouring_id="clove-2", name="New clove", version_of="clove", allergens="none", carrier="water")
    assert made_of(newer, Shelf.of([], [CLOVE, newer])) == []


def test_a_dilution_in_a_drink_that_holds_it_comes_to_an_end():
    odd = Base(base_id="cider", name="Cider", made_from="clove-1in100-cider:5;water:95", allergens="none")
    shelf = Shelf.of([odd], [CLOVE, THIN])
    assert {getattr(part, "name", None) for part in made_of(THIN, shelf)} == {"Clove", "Cider", "Plain water"}
    assert content({"clove-1in100-cider": 1.0}, shelf).mg == {}
    assert allergens_of(odd, shelf) == (frozenset(), ())
    assert carriers_of(odd, shelf) == {"water": None}


def test_what_a_column_states_is_told_in_mg_per_g_whatever_its_unit():
    cola = Base(base_id="cola", name="Cola", caffeine_mg_per_100g=10, acids_g_per_100g=0.3)
    kick = Flavouring(flavouring_id="kick", name="Kick", caffeine_mg_per_g=20, acids_g_per_g=0.3)
    shelf = Shelf.of([cola], [kick])
    told = [stated_mg_per_g(item, substance, shelf) for item in (cola, kick) for substance in ("caffeine", "acids")]
    assert told == pytest.approx([0.1, 3.0, 20.0, 300.0])


def test_what_is_unmeasured_in_a_part_may_be_in_the_whole_by_its_share():
    tea = Base(base_id="tea", name="Tea", tags="caffeine")
    latte = Base(base_id="latte", name="Latte", made_from="tea:100;water:300")
    shelf = Shelf.of([tea, latte], [])
    whole, part = (unmeasured_of(item, shelf)["caffeine"] for item in (latte, tea))
    assert whole == pytest.approx(part / 4)
