import re

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate

import pairing
from pairing.errors import LogError
from pairing.report.document import Heading, to_html, to_markdown
from pairing.report.period import cups_tried, in_period
from pairing.report.trials import UNITS, trial_report


@pytest.fixture(scope="module")
def learned():
    palate = make_palate(3, n_tasters=2)
    readings = palate.log(80, np.random.default_rng(1))
    return readings, pairing.learn(palate.bases_df, palate.flavourings_df, readings, random_state=0)


@pytest.fixture(scope="module")
def checks():
    rows = [
        ("c1", i, "stronger", "base-0|flav-00=2.0", "base-0|flav-00=1.0", "left" if i <= 14 else "right", "ana", day)
        for i, day in enumerate(["2024-01-03T18:00:00"] * 18, start=1)
    ]
    names = ["check_id", "serving", "question", "left", "right", "answer", "taster", "served_at"]
    return pd.DataFrame(rows, columns=names)


def test_the_report_says_what_was_tried_learned_and_is_next(learned, checks):
    readings, model = learned
    suggestions = model.suggest(n=2, random_state=0)
    document = trial_report(model, readings, comparisons=checks, suggestions=suggestions, currency="EUR")
    page, text = to_html(document), to_markdown(document)
    for word in (
        "In short",
        "What was tried",
        "What the log has taught",
        "Blind checks",
        "Round-up",
        "Side by side",
        "What is next",
    ):
        assert f"## {word}" in text
    assert "80 cups of 6 bases with 24 flavourings" in text
    assert "14 of 18" in text
    assert "0.031" in text
    assert "sighted" in text
    assert page.count("<svg") >= 4
    assert not re.search(r"(?:src|href)=|https?://|<script|nan", page)


def test_single_sighted_findings_are_labelled(learned):
    readings, model = learned
    mine = readings[readings["taster"] == "taster-1"]
    text = to_markdown(trial_report(model, mine))
    assert "sighted, one taster: as much hoped for as found until a blind check tells" in text
    assert "None yet. A sighted finding" in text


def test_a_period_holds_its_cups_only(learned):
    readings, model = learned
    some = in_period(readings, "2024-01-02", "2024-01-03")
    cups = cups_tried(model.shelf, some)
    assert {cup.day for cup in cups} == {"2024-01-02", "2024-01-03"}
    assert len(cups) == 16
    document = trial_report(model, readings, since="2024-01-02", until="2024-01-03")
    assert document.title == "Trials 2024-01-02 to 2024-01-03"
    assert "16 cups" in to_markdown(document)


def test_a_cups_record_is_its_last_moment(learned):
    readings, model = learned
    cups = {cup.trial_id: cup for cup in cups_tried(model.shelf, readings)}
    for trial_id, rows in list(readings.groupby("trial_id"))[:20]:
        last = rows[rows["reading"] == rows["reading"].max()]
        expected = dict(zip(last["flavouring_id"], last["dose_g_per_kg"], strict=True))
        assert dict(cups[trial_id].recipe.doses) == pytest.approx(expected, rel=1e-5)
        judged = rows.dropna(subset=["liking"])
        if len(judged):
            assert cups[trial_id].liking == judged[judged["reading"] == judged["reading"].max()]["liking"].iloc[0]


@pytest.mark.parametrize(
    ("period", "message"),
    [
        ({"since": "2030-01-01"}, "no cup was tasted from 2030-01-01 to now — cups with a date go from 2024-01-01"),
        ({"since": "last week"}, "since 'last week' is not a date — write YYYY-MM-DD"),
        ({"since": "2025-06-31"}, "since '2025-06-31' is not a date — write YYYY-MM-DD"),
        ({"since": "2024-02-01", "until": "2024-01-01"}, "ends on 2024-01-01, before it begins"),
    ],
)
def test_periods_that_cannot_be(learned, period, message):
    readings, model = learned
    with pytest.raises(LogError, match=message):
        trial_report(model, readings, **period)


@pytest.mark.parametrize("unit", UNITS)
def test_the_reader_chooses_the_unit(learned, unit):
    readings, model = learned
    text = to_markdown(trial_report(model, readings, unit=unit))
    header = next(line for line in text.splitlines() if "added kcal" in line and "chance best" in line)
    assert unit in header
    with pytest.raises(LogError, match="unit 'cups' is not known"):
        trial_report(model, readings, unit="cups")


def test_an_empty_log_has_no_report(learned):
    readings, model = learned
    with pytest.raises(LogError, match="no cup yet"):
        trial_report(model, readings.iloc[:0])


def test_typed_names_and_dates_stay_text(learned):
    readings, model = learned
    nasty = readings.copy()
    nasty["taster"] = "<script>alert(1)</script>"
    page = to_html(trial_report(model, nasty))
    assert "<script" not in page
    undated = readings.drop(columns="tasted_at")
    assert trial_report(model, undated).title == "Trials"


def test_the_best_and_the_bases_are_held_against_one_another_in_words_and_drawn(learned):
    readings, model = learned
    blocks = trial_report(model, readings).blocks
    start = next(i for i, block in enumerate(blocks) if block == Heading("Side by side"))
    best, drawn, bases, beside = blocks[start + 1 : start + 5]
    assert "is liked better than" in best.text
    assert "A blind check" in best.text
    assert " × what " in bases.text
    assert "liking, 1 to 9 (80 %)" in drawn.svg
    assert "× the dose that" in beside.svg
