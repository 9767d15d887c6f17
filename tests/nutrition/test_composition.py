"""Bases made from parts."""

import pytest

from pairing.errors import TableError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import allergens_of, compose

POWDER = Base(
    base_id="powder",
    name="Powder",
    energy_kcal_per_100g=400,
    fat_g_per_100g=5,
    sodium_mg_per_100g=500,
    sweeteners="sucralose:100",
    cost_per_kg=20,
    allergens="milk",
    tags="protein",
)
SYRUP = Flavouring(
    flavouring_id="syrup",
    name="Syrup",
    energy_kcal_per_g=2.5,
    fat_g_per_g=0,
    sodium_mg_per_g=0,
    cost_per_g=0.01,
    allergens="none",
)
SHAKE = Base(base_id="shake", name="Shake", made_from="powder:30;water:270")


def shelf(*more):
    return Shelf.of([POWDER, SHAKE, *more], [SYRUP])


def test_parts_by_hand():
    found = compose(SHAKE, shelf())
    assert found.energy_kcal_per_100g == pytest.approx(40)
    assert found.fat_g_per_100g == pytest.approx(0.5)
    assert found.sodium_mg_per_100g == pytest.approx(50)
    assert found.cost_per_kg == pytest.approx(2)
    assert found.sweeteners == pytest.approx({"sucralose": 10})
    assert found.allergens == {"milk"}
    assert found.tags == {"protein"}
    assert found.protein_g_per_100g is None


def test_a_flavouring_may_be_a_part():
    mixed = Base(base_id="mixed", name="Mixed", made_from="powder:50;syrup:50")
    found = compose(mixed, shelf(mixed))
    assert found.energy_kcal_per_100g == pytest.approx(0.5 * 400 + 0.5 * 250)
    assert found.cost_per_kg == pytest.approx(0.5 * 20 + 0.5 * 10)
    assert found.sweeteners is None


def test_what_the_base_states_itself_stays():
    own = Base(
        base_id="own", name="Own", made_from="powder:30;water:270", energy_kcal_per_100g=44, sodium_mg_per_100g=0
    )
    found = compose(own, shelf(own))
    assert (found.energy_kcal_per_100g, found.sodium_mg_per_100g) == (44, 0)


def test_parts_of_parts():
    double = Base(base_id="double", name="Double", made_from="shake:100;water:100")
    assert compose(double, shelf(double)).energy_kcal_per_100g == pytest.approx(20)


def test_allergens_of_parts_count_even_where_the_whole_declares_less():
    own = Base(base_id="own", name="Own", made_from="powder:30;water:270", allergens="soy")
    assert allergens_of(own, shelf(own)) == ({"soy", "milk"}, ())
    silent = Base(base_id="silent", name="Silent", made_from="powder:30;plain:30")
    plain = Base(base_id="plain", name="Plain")
    assert allergens_of(silent, shelf(silent, plain)) == ({"milk"}, ("plain",))
    assert compose(silent, shelf(silent, plain)).allergens is None


def test_a_base_without_parts_is_itself_and_a_shelf_is_composed_at_once():
    assert compose(POWDER, shelf()) is POWDER
    assert compose(shelf().base("shake"), shelf()).energy_kcal_per_100g == pytest.approx(40)


@pytest.mark.parametrize(
    ("made_from", "says"),
    [
        ("powder:30;nothing:10", "neither a base nor a flavouring"),
        ("powder;water:270", "no amount"),
        ("powder:0;water:0", "0 g"),
        ("wrong:10;water:10", "made from itself"),
    ],
)
def test_parts_that_cannot_be_are_refused(made_from, says):
    wrong = Base(base_id="wrong", name="Wrong", made_from=made_from)
    with pytest.raises(TableError, match=says) as caught:
        compose(wrong, shelf(wrong))
    assert caught.value.hint


def test_a_circle_is_refused():
    a, b = Base(base_id="a", name="A", made_from="b:10"), Base(base_id="b", name="B", made_from="a:10")
    with pytest.raises(TableError, match="a → b → a"):
        compose(a, Shelf.of([a, b], []))


def test_the_shelf_may_have_its_own_water():
    hard = Base(base_id="water", name="Hard water", sodium_mg_per_100g=10, energy_kcal_per_100g=0)
    found = compose(SHAKE, Shelf.of([POWDER, SHAKE, hard], []))
    assert found.sodium_mg_per_100g == pytest.approx(59)
    assert found.fat_g_per_100g is None
