"""Cups come weak before strong by dose ÷ needed dose, and what lingers last."""

import pytest

from pairing import Recipe
from pairing.evening.order import Impact, impact, orders
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

OAT = Base(base_id="oat", name="Oat")
SHELF = Shelf.of(
    [OAT, Base(base_id="cider", name="Cider", ethanol_g_per_100g=4)],
    [
        Flavouring(flavouring_id="plum", name="Plum syrup"),
        Flavouring(flavouring_id="mint", name="Garden mint oil"),
        Flavouring(flavouring_id="cool", name="Glacier drops", tags="cooling"),
        Flavouring(flavouring_id="ginger", name="Ginger syrup"),
        Flavouring(flavouring_id="rum", name="Rum note", carrier="ethanol:0.4"),
        Flavouring(flavouring_id="sweet", name="Sweet drops", sweeteners="sucralose"),
        Flavouring(flavouring_id="salt", name="Salt", sweeteners="none"),
        Flavouring(flavouring_id="hint", name="Hinting drops"),
    ],
)


@pytest.mark.parametrize(
    ("base_id", "flavouring_id", "why"),
    [
        ("oat", "plum", ()),
        ("oat", "mint", ("cooling",)),
        ("oat", "cool", ("cooling",)),
        ("oat", "ginger", ("pungent",)),
        ("oat", "rum", ("alcohol",)),
        ("oat", "sweet", ("sweetener",)),
        ("oat", "salt", ()),
        ("oat", "hint", ()),
        ("cider", "plum", ("alcohol",)),
    ],
)
def test_what_lingers_is_told_by_its_words_and_by_what_is_in_it(base_id, flavouring_id, why):
    assert impact(Recipe(base_id, {flavouring_id: 1.0}), {flavouring_id: 1.0}, SHELF).lingers == why


def test_strength_is_the_dose_by_the_needed_dose_not_grams():
    heavy = impact(Recipe("oat", {"plum": 20.0}), {"plum": 40.0}, SHELF)
    light = impact(Recipe("oat", {"plum": 0.2}), {"plum": 0.1}, SHELF)
    assert (heavy.strength, light.strength) == (0.5, 2.0)
    both = impact(Recipe("oat", {"plum": 3.0, "salt": 4.0}), {"plum": 1.0, "salt": 1.0}, SHELF)
    assert both.strength == pytest.approx(5.0)


def test_orders_keep_the_ranks_and_balance_what_is_alike():
    felt = [Impact(strength=s) for s in (1.0, 1.1, 0.3, 1.05)] + [Impact(strength=0.2, lingers=("bitter",))]
    rows = orders(felt, 6)
    assert all(row[0] == 2 and row[-1] == 4 for row in rows)
    middle = [row[1:4] for row in rows]
    for place in range(3):
        assert sorted(row[place] for row in middle) == [0, 0, 1, 1, 3, 3]
    assert orders(felt, 1, turn=1) == (rows[1],)  # one taster: the next evening goes on
