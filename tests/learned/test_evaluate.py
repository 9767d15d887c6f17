"""Evaluation on held-out cups: honest errors, in plain words."""

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate
from small_logs import cup, learn

from pairing.api import Rule
from pairing.errors import LogError
from pairing.learned.each_rule import each_rule
from pairing.learned.evaluate import SPLITS, evaluate

PALATE = make_palate(61, 4, 10, 3)
PAIRS_ARE_DREADFUL = Rule(
    id="lab:wrong",
    summary="Pairs are dreadful",
    source="from memory",
    acts_on="liking",
    feature=lambda table: (table.n_flavourings > 1) * 1.0,
    because=lambda recipe: "pairs are dreadful",
    prior_mean=-6.0,
    prior_sd=0.1,
)


def fit(log, **options):
    return learn(log, bases=PALATE.bases_df, flavourings=PALATE.flavourings_df, **options)


@pytest.fixture(scope="module")
def model():
    return fit(PALATE.log(150, np.random.default_rng(61)))


@pytest.fixture(scope="module")
def found(model):
    return evaluate(model)


def test_every_way_of_holding_out_has_its_line(found):
    table = found.table
    assert set(table["split"]) == set(SPLITS)
    for name in ("model", "average", "flavouring mean", "additive ridge"):
        assert np.isfinite(table[name]).all()
    assert (table["cups"] > 0).all()
    assert table["coverage"].between(0.6, 1.0).all()


def test_the_table_is_the_error_of_the_predictions(found):
    for row in found.table[found.table["chosen_by"] == "all"].to_dict("records"):
        part = found.predictions[found.predictions["split"] == row["split"]]
        assert row["cups"] == len(part)
        for name in ("model", "average"):
            assert row[name] == pytest.approx(np.sqrt(np.mean((part[name] - part["given"]) ** 2)))


def test_a_cup_that_two_tasted_is_one_cup():
    log = PALATE.log(40, np.random.default_rng(8))
    found = evaluate(fit(pd.concat([log, log.assign(taster="somebody else")])), ["later cups"])
    assert found.table["cups"].iloc[0] == found.predictions["trial_id"].nunique() == len(found.predictions) / 2


def test_every_liked_cup_is_asked_once_where_all_are_held_out_in_turn(model, found):
    liked = int((~np.isnan(model.log.liking)).sum())
    for split in ("new combinations", "new base", "new taster"):
        part = found.predictions[found.predictions["split"] == split]
        assert len(part) == liked
        assert sorted(part["given"]) == sorted(model.log.liking[~np.isnan(model.log.liking)])


def test_the_sentence_says_by_how_much(found):
    row = found.table.iloc[0]
    text = found.sentences[0]
    assert f"off by {row['model']:.1f} points where guessing the average is off by {row['average']:.1f}" in text
    assert f"on {row['cups']} held-out cups" in text
    splits = found.table["split"].unique()
    assert [s.split(":")[0].casefold() for s in found.sentences[: len(splits)]] == list(splits), "one verdict a split"
    doses = [s for s in found.sentences if "just right" in s]
    assert doses
    assert "label" in doses[0]


def test_the_model_beats_the_average_and_doses_beat_the_label(found):
    row = found.table[found.table["split"] == "new combinations"].iloc[0]
    assert row["model"] < row["average"]
    assert row["gain"] > row["gain_sd"] > 0
    dose = found.doses[found.doses["split"] == "new combinations"].iloc[0]
    assert dose["model"] < dose["label"]


def test_a_held_out_cup_is_not_seen(model):
    """Change the scores of cups: what is predicted for those very cups stays, or else the answers leak."""
    log = PALATE.log(60, np.random.default_rng(62))
    one = evaluate(fit(log), ["later cups"]).predictions
    last = one["trial_id"].iloc[-1]
    changed = log.copy()
    mine = (changed["trial_id"] == last) & changed["liking"].notna()
    changed.loc[mine, "liking"] = 9.0 if one["given"].iloc[-1] < 5 else 1.0
    two = evaluate(fit(changed), ["later cups"]).predictions
    assert two["given"].iloc[-1] != one["given"].iloc[-1]
    assert two["model"].iloc[-1] == pytest.approx(one["model"].iloc[-1], abs=0.02)


def test_own_and_suggested_cups_are_told_apart():
    log = PALATE.log(60, np.random.default_rng(63))
    log["chosen_by"] = np.where(log["trial_id"] < "t00030", "own", "suggested")
    table = evaluate(fit(log), ["new combinations"]).table
    groups = table.set_index("chosen_by")["cups"]
    assert groups["own"] + groups["suggested"] == groups["all"]


def test_calibration_rises_with_the_prediction(found):
    table = found.calibration
    assert table["predicted"].is_monotonic_increasing
    assert np.corrcoef(table["predicted"], table["observed"])[0, 1] > 0.7


def test_a_rule_can_be_done_without():
    log = PALATE.log(60, np.random.default_rng(64))
    model = fit(log, rules=[PAIRS_ARE_DREADFUL])
    with_rule = evaluate(model, ["new combinations"]).table["model"].iloc[0]
    without = evaluate(model, ["new combinations"], without=["lab:wrong"]).table["model"].iloc[0]
    assert without < with_rule - 0.3
    with pytest.raises(LogError, match="lab:wrng"):
        evaluate(model, without=["lab:wrng"])


def test_too_few_cups_and_unknown_splits_are_refused(model):
    with pytest.raises(LogError, match="12"):
        evaluate(learn(*[cup("oat", {"quince": 2.0}, 3, 7)] * 5))
    with pytest.raises(LogError, match="new bases"):
        evaluate(model, ["new bases"])


def test_one_base_and_one_taster_leave_out_what_cannot_be_held_out():
    cups = [cup("oat", {f: 2.0}, 3, s) for f, s in (("quince", 7), ("rose", 4), ("clove", 5)) for _ in range(8)]
    assert set(evaluate(learn(*cups)).table["split"]) == {"later cups", "new combinations"}


def test_a_way_of_holding_out_that_the_log_does_not_allow_is_refused_with_what_is_needed():
    cups = [cup("oat", {"quince": 2.0}, 3, s) for s in (7, 6, 4, 5) for _ in range(5)]
    log = learn(*cups, rules=[PAIRS_ARE_DREADFUL])
    for split, what in (("new base", "base"), ("new taster", "taster"), ("new combinations", "combination")):
        with pytest.raises(LogError, match=f"{split}.*1 {what}.*2 are needed") as caught:
            evaluate(log, ["later cups", split])
        assert "another" in caught.value.hint
        with pytest.raises(LogError, match=split):
            each_rule(log, [split])
    assert set(evaluate(log).table["split"]) == {"later cups"}
    for ask in (evaluate, each_rule):
        with pytest.raises(LogError, match="later cups, new combinations"):
            ask(log, [])


def test_progress_ends_at_one(model):
    told = []
    evaluate(model, ["later cups"], progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
