"""Enough for a batch: unknown is never too little, and bottles are bought whole."""

import pytest

from pairing.errors import QuantityError, UnknownIdError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.stock.lots import Lot
from pairing.stock.reckon import reckon
from pairing.stock.shopping import shopping_list

STRONG = Recipe("oat", {"plum": 7.3})
OAT = Base(base_id="oat", name="Oat", density_g_per_ml=1.0, cost_per_kg=2.0)


def shelf(**facts):
    return Shelf.of([OAT], [Flavouring(flavouring_id="plum", name="Plum", **facts)])


def plum_of(shelf, lots=(), litres=20, recipes=(STRONG,)):
    return shopping_list(recipes, litres, shelf, lots)[1]


def test_a_stock_of_100_for_147_g_makes_two_thirds_of_it():
    need = plum_of(shelf(stock_g=100.0))
    assert need.need_g == pytest.approx(20_000 * 7.3 / 992.7)
    assert need.short
    assert need.share == pytest.approx(100 / need.need_g)
    assert need.buy_g == pytest.approx(need.need_g - 100)


def test_an_unknown_stock_is_never_too_little():
    need = plum_of(shelf(cost_per_g=0.4))
    assert (need.short, need.buy_g, need.share) == (False, None, 1.0)
    assert need.cost == pytest.approx(0.4 * need.need_g), "bought whole, to be on the safe side"


def test_bottles_are_bought_whole_at_the_price_of_the_last_lot():
    bottle = Lot(item_id="plum", lot="A", size="50 g", price=6.0)
    held = reckon([bottle], [], [], {("plum", "A"): 50.0})
    need = plum_of(shelf(stock_g=50.0), held)
    assert (need.bottles, need.size, need.cost) == (2, "50 g", 12.0)


def test_several_recipes_are_one_list():
    assert plum_of(shelf(), recipes=(STRONG, STRONG)).need_g == pytest.approx(2 * plum_of(shelf()).need_g)


@pytest.mark.parametrize("litres", [0, -1, float("nan"), float("inf")])
def test_no_batch_of_nothing(litres):
    with pytest.raises(QuantityError):
        plum_of(shelf(), litres=litres)


def test_an_open_dose_or_what_nobody_knows_is_named():
    with pytest.raises(QuantityError, match="dose of plum is open"):
        plum_of(shelf(), recipes=(Recipe("oat", {"plum": None}),))
    with pytest.raises(UnknownIdError):
        plum_of(shelf(), recipes=(Recipe("oat", {"pear": 1.0}),))
