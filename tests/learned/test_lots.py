"""A stronger lot is found, with an interval that holds; a new one starts from what the old one needed."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from small_logs import BASES, FLAVOURINGS, cup, table

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from lots import told

from pairing.learned import learn_shelf
from pairing.learned.stored import pack, unpack
from pairing.model.shelf import Shelf

SHELF = Shelf.from_tables(BASES, FLAVOURINGS)


def learned(*cups, **in_use):
    return learn_shelf(replace(SHELF, lot_in_use=in_use), table(*cups))


def poured(dose, n=12, flavouring_id="quince", **more):
    """Cups in which that dose is mostly just right."""
    words = [3, 3, 2, 3, 4, 3] * (n // 6)
    return [cup("oat", {flavouring_id: dose}, word, 6, **more) for word in words]


def needed(model, flavouring_id="quince"):
    return model.needed_dose(["oat"], [flavouring_id]).iloc[0]


def test_a_lot_that_is_stronger_is_found_with_an_interval_that_holds():
    """Palates and lots of their own truth: one of three new lots is 1.4 × as strong."""
    tables = [told(seed) for seed in (5, 6)]
    for found in tables:
        strong, same = found["truth"] > 0, found["truth"] == 0
        assert ((found["low"] <= 1.4) & (found["high"] >= 1.4))[strong].all()
        assert found["times"][strong].gt(1.1).all()
        assert not (found["found"] & same).any()
    assert sum(found["found"].sum() for found in tables) >= 1


def test_each_lot_is_held_against_the_one_before_it():
    model = learned(*poured(2.8, lot=None), *poured(2.0, lot="A"), *poured(2.0, lot="B"), *poured(4.0, 6, "rose"))
    rows = model.lot_strength()
    assert rows[["flavouring_id", "lot", "before"]].astype(object).values.tolist() == [
        ["quince", "A", None], ["quince", "B", "A"]
    ]  # fmt: skip
    first, second = rows.to_dict("records")
    assert first["low"] < 1.4 < first["high"]
    assert first["p_stronger"] > 0.95
    assert second["low"] < 1.0 < second["high"]
    assert (first["readings"], first["readings_before"]) == (12, 12)


def test_a_new_lot_starts_from_what_the_old_one_needs_a_little_wider():
    old = poured(3.0, lot="A")
    before, after = learned(*old, quince="A"), learned(*old, quince="B")
    assert needed(after)["dose_g_per_kg"] == pytest.approx(needed(before)["dose_g_per_kg"], rel=0.1)
    assert 1.05 * needed(before)["log_sd"] < needed(after)["log_sd"] < 0.25
    assert needed(after, "rose")["log_sd"] == pytest.approx(needed(before, "rose")["log_sd"], rel=0.05)
    (new,) = after.lot_strength().to_dict("records")
    assert (new["lot"], new["before"], new["readings"], new["found"]) == ("B", "A", 0, False)
    assert new["low"] < 0.85
    assert new["high"] > 1.15


def test_the_dose_is_that_of_the_lot_in_use():
    cups = [*poured(2.8, 24, lot="A"), *poured(2.0, 24, lot="B")]
    strong, weak = (needed(learned(*cups, quince=lot))["dose_g_per_kg"] for lot in ("B", "A"))
    assert strong < 0.85 * weak
    model = learned(*cups, quince="B")
    ladder_mean, _ = model.dose_posterior(["oat"], [["quince"]])
    assert np.exp(ladder_mean[0, 0]) == pytest.approx(strong)


def test_without_lots_nothing_is_told_and_nothing_is_wider():
    cups = poured(3.0)
    model = learned(*cups)
    assert model.lot_strength().empty
    assert model.log.recipes.lot is None


def test_what_is_kept_tells_the_same():
    model = learned(*poured(2.8, lot="A"), *poured(2.0, lot=None), quince="A")
    again = unpack(pack(model), model.shelf, model.log)
    assert again.lot_strength().equals(model.lot_strength()) or np.allclose(
        again.lot_strength()[["times", "low"]], model.lot_strength()[["times", "low"]], rtol=1e-4
    )
