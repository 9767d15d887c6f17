"""What fades is found from cups that were tasted again; what was not says so by its interval, not by silence."""

import sys
from pathlib import Path

import numpy as np
import pytest
from small_logs import cup, learn

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from fading import told


def test_what_fades_is_told_from_what_does_not():
    tables = [told(seed) for seed in range(4)]
    fading = np.concatenate([table["left"][fades] for table, fades in tables])
    others = np.concatenate([table["left"][~fades] for table, fades in tables])
    assert np.median(fading) == pytest.approx(0.5, abs=0.12)
    assert np.median(others) == pytest.approx(1.0, abs=0.06)
    assert sum((table["found"] & fades).sum() for table, fades in tables) >= 4
    assert not any((table["found"] & ~fades).any() for table, fades in tables)
    for table, fades in tables:
        assert table["half_life_days"][fades & table["found"]].between(0.5, 2).all()
        assert table["holds_days"].between(0, 3).all()


def test_what_nobody_tasted_again_is_unknown():
    model = learn(cup("oat", {"quince": 2.0}, 3, 6), cup("oat", {"rose": 4.0}, 2, 5))
    table = model.over_time().set_index("item_id").loc[["quince", "rose"]]
    assert (table["low"] < 0.6).all()
    assert (table["high"] > 1.6).all()
    assert table["holds_days"].isna().all()
    assert not table["found"].any()
    assert (table["later"] == 0).all()


def test_what_time_did_to_one_cup_is_left_out_of_what_is_expected_of_a_fresh_one():
    fresh = [cup("oat", {"quince": 2.0}, 3, 6, minutes_since_addition=2.0) for _ in range(8)]
    stale = [cup("oat", {"quince": 2.0}, 1, 6, minutes_since_addition=2880.0) for _ in range(8)]
    models = learn(*fresh), learn(*fresh, *stale)
    needed = [m.needed_dose(["oat"], ["quince"])["dose_g_per_kg"].iloc[0] for m in models]
    assert needed[1] == pytest.approx(needed[0], rel=0.25)
    table = models[1].over_time().set_index("item_id")
    assert table.loc["quince", "high"] < 0.95
