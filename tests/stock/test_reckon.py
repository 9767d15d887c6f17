"""Which lot a cup took from, and what is told where that, or the lot, cannot be right."""

import pytest

from pairing.errors import TableError
from pairing.stock.draws import Draw
from pairing.stock.lots import Lot
from pairing.stock.reckon import Weighing, cost_per_g, held_g, lot_meant, reckon


def lots(*cells):
    return [Lot(item_id="quince", **{"lot": "AB"[n], "size": "30 ml"} | one) for n, one in enumerate(cells)]


def of(bottles, draws=(), weighings=()):
    return reckon(bottles, draws, weighings, {(b.item_id, b.lot): b.size_g() for b in bottles})


def cup(grams, at=None, lot=None):
    return Draw("quince", grams, lot, at)


def left(held):
    return [one.held_g for one in held]


OPEN = [{"opened_at": "2026-03-01"}, {"opened_at": "2026-03-02"}]


def test_what_was_used_before_any_lot_was_bought_is_of_none():
    held = of(lots({"bought_at": "2026-03-01"}), [cup(5, "2026-02-01"), cup(7)])
    assert left(held) == [30.0]


def test_the_open_lot_is_used_before_one_that_is_not():
    held = of(lots({"opened_at": "2026-03-02"}, {"bought_at": "2026-03-01"}), [cup(5, "2026-03-05")])
    assert left(held) == [25.0, 30.0]
    assert lot_meant("quince", held).lot.lot == "A"


def test_an_emptied_lot_holds_nothing_and_the_next_one_is_used():
    held = of(lots({"opened_at": "2026-03-01", "emptied_at": "2026-03-04"}, {}), [cup(5, "2026-03-05")])
    assert left(held) == [0.0, 25.0]


def test_of_two_open_lots_it_asks_which_and_names_them():
    held = of(lots(*OPEN), [cup(5, "2026-03-05")])
    assert held[0].flags == ("which lot",), "counted with the one opened first, and told"
    with pytest.raises(TableError, match="2 lots of quince are open: A, B"):
        lot_meant("quince", held)


def test_it_remembers_the_lot_that_was_named_last():
    held = of(lots(*OPEN), [cup(1, "2026-03-03", lot="B"), cup(5, "2026-03-05")])
    assert left(held) == [30.0, 24.0]
    assert not held[0].flags
    assert not held[1].flags
    assert lot_meant("quince", held).lot.lot == "B"
    weighed = of(
        lots(OPEN[0] | {"tare_g": 10}, OPEN[1]), [cup(5, "2026-03-05")], [Weighing("quince", "A", "2026-03-04", 39)]
    )
    assert left(weighed) == [24.0, 30.0]


def test_it_asks_again_when_another_was_opened_since():
    later = [OPEN[0], {"opened_at": "2026-03-05T12:00"}]
    held = of(lots(*later), [cup(1, "2026-03-05T10:00", lot="A")])
    assert not any(one.in_use for one in held)
    held = of(lots(*later), [cup(1, "2026-03-05T10:00", lot="A"), cup(1, "2026-03-05T13:00", lot="A")])
    assert [one.in_use for one in held] == [True, False]


def test_a_cup_of_another_bottle_takes_from_none_of_these():
    assert left(of(lots({}), [cup(5, "2026-03-05", lot="mother's")])) == [30.0]


@pytest.mark.parametrize(
    ("cells", "draws", "weighings", "flag", "grams"),
    [
        ({"bought_at": "2026-03-01"}, [cup(5, "2026-02-01", lot="A")], [], "used before bought", 25.0),
        ({"emptied_at": "2026-03-01"}, [cup(5, "2026-03-03", lot="A")], [], "used after emptied", 0.0),
        ({}, [cup(31)], [], "overdrawn", 0.0),
        ({}, [], [Weighing("quince", "A", "2026-03-04", 39)], "tare unknown", 30.0),
        ({"tare_g": 40}, [], [Weighing("quince", "A", "2026-03-04", 39)], "lighter than its tare", 30.0),
        ({}, [cup(None), cup(1)], [], "unknown amounts", 29.0),
    ],
)
def test_what_cannot_be_right_is_told_and_nothing_is_lost(cells, draws, weighings, flag, grams):
    (one,) = of(lots(cells), draws, weighings)
    assert one.flags == (flag,)
    assert one.held_g == grams


def test_an_unknown_lot_makes_the_item_unknown_and_an_emptied_one_does_not():
    assert held_g(of(lots({}, {"size": None}))) == {"quince": None}
    assert held_g(of(lots({}, {"size": None, "emptied_at": "2026-03-01"}))) == {"quince": 30.0}


def test_the_price_is_that_of_the_lot_in_use():
    dear = {"price": 12.0, "bought_at": "2026-03-01"}
    assert cost_per_g(of(lots({"price": 6.0}))) == {"quince": 0.2}
    assert cost_per_g(of(lots(dear, OPEN[0] | {"price": 6.0}))) == {"quince": 0.2}
    assert cost_per_g(of(lots({}))) == {}
