import numpy as np
import pandas as pd
import pytest
from simulated import make_palate

import pairing
from pairing.errors import UnknownIdError
from pairing.learned.roundup import compare
from pairing.model.recipe import Recipe
from pairing.nutrition.serving import serving


@pytest.fixture(scope="module")
def learned():
    palate = make_palate(3)
    readings = palate.log(60, np.random.default_rng(1))
    return palate, readings, pairing.learn(palate.bases_df, palate.flavourings_df, readings, random_state=0)


def test_round_up_of_some(learned):
    palate, _, model = learned
    flavourings, bases = palate.flavouring_ids[:5], palate.base_ids[:3]
    table = compare(model, flavourings, bases)
    assert len(table) == 15
    assert table["liking"].is_monotonic_decreasing
    assert ((table["low"] <= table["dose_g_per_kg"]) & (table["dose_g_per_kg"] <= table["high"])).all()
    assert table.groupby("base_id")["p_best"].sum().to_numpy() == pytest.approx(1)
    best = table.sort_values("p_best").groupby("base_id").tail(1).set_index("base_id")["flavouring_id"]
    top = table.groupby("base_id").head(1).set_index("base_id")["flavouring_id"]
    assert (best.loc[top.index] == top).mean() >= 2 / 3


def test_figures_are_those_of_a_serving(learned):
    palate, _, model = learned
    table = compare(model, palate.flavouring_ids[:2], palate.base_ids[:1])
    for row in table.itertuples():
        found = serving(Recipe(row.base_id, {row.flavouring_id: row.dose_g_per_kg}), model.shelf)
        assert row.grams == pytest.approx(found.grams[row.flavouring_id])
        assert found.added_kcal is None or row.added_kcal == pytest.approx(found.added_kcal)


def test_counts_are_those_of_the_log(learned):
    palate, readings, model = learned
    table = compare(model)
    assert len(table) == len(palate.base_ids) * len(palate.flavouring_ids)
    counted = readings.dropna(subset=["flavouring_id"]).groupby(["base_id", "flavouring_id"])["trial_id"].nunique()
    found = table.set_index(["base_id", "flavouring_id"])["cups"]
    assert found[found > 0].sort_index().to_dict() == counted.sort_index().to_dict()
    right = readings[readings["strength"] == 3].groupby(["base_id", "flavouring_id"])["trial_id"].nunique()
    found = table.set_index(["base_id", "flavouring_id"])["right"]
    assert found[found > 0].sort_index().to_dict() == right.sort_index().to_dict()
    assert np.isnan(table.loc[table["cups"] == 0, "share_blind"]).all()


def test_unknown_names_are_refused_and_none_is_an_empty_table(learned):
    _, _, model = learned
    with pytest.raises(UnknownIdError):
        compare(model, ["no-such"])
    empty = compare(model, [])
    assert isinstance(empty, pd.DataFrame)
    assert empty.empty
