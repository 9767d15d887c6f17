"""Lots: sizes as sold, days that follow one another, and what is refused before it is kept."""

import pandas as pd
import pytest
from store_tables import bases, flavourings

from pairing import Bench
from pairing.errors import QuantityError, TableError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.stock.lots import MAX_SIZE_G, Lot


def lot(**cells):
    return Lot(item_id="quince", lot="A", **cells)


@pytest.mark.parametrize(
    ("size", "item", "grams"),
    [
        ("30 ml", None, 30.0),
        ("30 ml", Flavouring(flavouring_id="quince", name="Quince", density_g_per_ml=0.9), 27.0),
        ("1,5 kg", None, 1500.0),
        ("2 l", Base(base_id="oat", name="Oat"), 2060.0),  # the base's density assumed, 1.03 g/ml
        ("2 l", Base(base_id="oat", name="Oat", density_g_per_ml=1.0), 2000.0),
    ],
)
def test_a_size_is_read_by_the_items_density(size, item, grams):
    assert lot(size=size).size_g(item) == pytest.approx(grams)


@pytest.mark.parametrize("size", ["0 ml", "-30 ml", "20 drops", "three", f"{MAX_SIZE_G / 500:g} kg"])
def test_a_size_that_cannot_be_is_refused(size):
    with pytest.raises(QuantityError) as error:
        lot(size=size)
    assert error.value.hint


def test_days_follow_one_another():
    lot(bought_at="2026-03-01", opened_at="2026-03-01", emptied_at="2026-03-01")
    with pytest.raises(TableError, match="opened_at 2026-02-28 is before bought_at 2026-03-01"):
        lot(bought_at="2026-03-01", opened_at="2026-02-28")
    with pytest.raises(TableError, match="opened_at 2026-02-28 is before made_at 2026-03-01"):
        lot(made_at="2026-03-01", opened_at="2026-02-28")


@pytest.mark.parametrize(
    ("table", "cells", "column"),
    [
        ("lots", {"size": "-30 ml"}, "size"),
        ("lots", {"bought_at": "2999-01-01"}, "bought_at"),
        ("lots", {"best_before": "2999-01-01"}, "best_before"),
        ("lots", {"use_by": "2999-01-01"}, "use_by"),
        ("lots", {"made_at": "2999-01-01"}, "made_at"),
        ("weighings", {"at": "2999-01-01", "gross_g": 50}, "at"),
    ],
)
def test_a_load_returns_such_rows_with_their_reason(tmp_path, table, cells, column):
    bench = Bench.create(tmp_path / "b")
    row = {"item_id": "quince", "lot": "A", **cells}
    report = bench.load(bases=bases(), flavourings=flavourings(), **{table: pd.DataFrame([row])})
    assert report.refused["column"].tolist() == [column]
    assert report.refused["remedy"].all()
    assert bench.tables(table).empty
