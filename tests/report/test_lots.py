"""How lots are told: in whole grams, and with how sure it is that one reads otherwise than the one before."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pairing.report.document import Bullets, Heading, Table
from pairing.report.lots import lot_line, lots_that_matter, stock_blocks
from pairing.stock.lots import Lot
from pairing.stock.reckon import Held

ROW = {"flavouring_id": "quince", "lot": "B", "before": "A", "times": 1.41, "low": 1.2, "high": 1.6,
       "p_stronger": 0.999, "readings": 14, "readings_before": 20, "found": True}  # fmt: skip
NAMES = {"quince": "Quince drops"}


def model(*rows, **in_use):
    shelf = SimpleNamespace(names=NAMES, lot_in_use=in_use)
    return SimpleNamespace(shelf=shelf, lot_strength=lambda: pd.DataFrame(list(rows), columns=list(ROW)))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {},
            "Quince drops, lot B reads stronger than lot A: 1.41 × as strong (80 %: 1.20–1.60; strengths: 14 of it, 20",
        ),
        ({"times": 0.7}, "Quince drops, lot B reads weaker than lot A: 0.70 × as strong"),
        ({"found": False}, "Quince drops, lot B cannot be told from lot A so far: 1.41 ×"),
        ({"before": None, "readings": 0}, "lot B: not tasted yet; its dose starts from that of what came before it"),
    ],
)
def test_a_lot_is_told_by_what_is_sure_of_it(change, said):
    assert said in lot_line(ROW | change, NAMES)


def test_what_matters_for_a_dose_is_of_the_lot_in_use():
    rows = ROW, ROW | {"lot": "C", "before": "B", "readings": 0, "found": False}
    assert [row["lot"] for row in lots_that_matter(model(*rows, quince="C"), ["quince"])] == ["C"]
    assert [row["lot"] for row in lots_that_matter(model(*rows, quince="B"), ["quince"])] == ["B"]
    assert not lots_that_matter(model(*rows, quince="B"), ["rose"])


def test_a_report_tells_what_is_left_and_is_silent_where_no_bottle_was_entered():
    held = Held(lot=Lot(item_id="quince", lot="B", use_by="2026-09-01"), size_g=30.0, held_g=12.3, drawn_g=17.7,
                weighed_at=None, in_use=True)  # fmt: skip
    heading, table, lines = stock_blocks(model(ROW, quince="B"), [held])
    assert isinstance(heading, Heading)
    assert isinstance(table, Table)
    assert table.rows == (("Quince drops", "B (in use)", "about 12 g", "2026-09-01", "–"),)
    assert isinstance(lines, Bullets)
    assert stock_blocks(model(), []) == []
