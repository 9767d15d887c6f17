"""A cup from the words of a command line."""

from __future__ import annotations

import argparse
import sys

import pytest

from pairing.cli.steps import add_step_arguments, log_line, make_cup
from pairing.errors import PairingError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat drink")],
    [
        Flavouring(
            flavouring_id="sour-plum", name="Sour plum", label_dose="5 drops per 100 ml", form="drops", drop_mg=25
        ),
        Flavouring(flavouring_id="ginger", name="Ginger", label_dose="25 g/kg", form="syrup", density_g_per_ml=1.24),
    ],
)


def cup(text, **judgement):
    parser = argparse.ArgumentParser()
    add_step_arguments(parser)
    return make_cup(parser.parse_args(text.split()), "oat", SHELF, **judgement)


def test_one_line_is_a_cup_with_one_reading():
    made = cup("--base-g 250 --add sour-plum=11drops --strength sour-plum=3", liking=7.0)
    assert made.dose_g_per_kg["sour-plum"] == pytest.approx(1000 * 0.275 / 250.275)
    (reading,) = made.readings
    assert dict(reading.strength) == {"sour-plum": 3}
    assert reading.liking == 7


def test_steps_happen_in_the_order_given():
    made = cup(
        "--base-g 400 --add sour-plum=6drops --sip 20 --strength sour-plum=2"
        " --add sour-plum=5drops --strength sour-plum=3"
    )
    assert [step.kind for step in made.steps] == ["pour", "add", "sip", "add"]
    first, second = made.readings
    assert first.dose_g_per_kg["sour-plum"] < second.dose_g_per_kg["sour-plum"]
    assert (first.stepped, second.stepped) == ("no", "yes")
    other = cup("--base-g 400 --add sour-plum=6drops --add sour-plum=5drops --sip 20")
    assert other.dose_g_per_kg["sour-plum"] < made.dose_g_per_kg["sour-plum"]


def test_liking_belongs_to_the_last_reading_only():
    made = cup("--base-g 200 --add ginger=3ml --strength ginger=2 --add ginger=1.5ml --strength ginger=3", liking=8.0)
    assert [reading.liking for reading in made.readings] == [None, 8.0]
    assert made.dose_g_per_kg["ginger"] == pytest.approx(1000 * 4.5 * 1.24 / (200 + 4.5 * 1.24))


def test_strengths_side_by_side_are_one_reading():
    made = cup("--base-g 200 --add ginger=3ml --add sour-plum=4drops --strength ginger=3 --strength sour-plum=2")
    assert [dict(reading.strength) for reading in made.readings] == [{"ginger": 3, "sour-plum": 2}]


def test_words_of_the_scale_are_read():
    parser = argparse.ArgumentParser()
    add_step_arguments(parser)
    args = parser.parse_args(["--base-g", "200", "--add", "ginger=3 ml", "--strength", "ginger=too weak"])
    assert dict(make_cup(args, "oat", SHELF).readings[0].strength) == {"ginger": 2}


def test_liking_without_strength_is_a_reading_of_its_own():
    made = cup("--base-g 200 --add ginger=3ml --mix spoon --rest 5", liking=6.0)
    (reading,) = made.readings
    assert (reading.liking, reading.mixing, reading.minutes_since_addition) == (6.0, "spoon", 5.0)


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        ("--add ginger", "write sour-plum=11drops"),
        ("--add ginger=three", ""),
        ("--add gingr=3ml", "ginger"),
        ("--add ginger=3ml --strength ginger=6", "0 to 5"),
        ("--add ginger=3ml --strength ginger=nice", "just right"),
        ("--strength ginger=3", "was added"),
        ("--sip lots", "digits"),
        ("--sip 900", "smaller sip"),
    ],
)
def test_what_cannot_be_is_refused_with_a_remedy(words, remedy):
    with pytest.raises(PairingError) as refused:
        cup(f"--base-g 200 {words}")
    assert refused.value.hint
    assert remedy in str(refused.value)


@pytest.mark.parametrize(
    ("step", "grams"),
    [("--pour 500ml", 515), ("--pour 0.5l", 515), ("--pour 1kg", 1000), ("--pour 12,5", 12.5), ("--pour 20g", 20)],
)
def test_base_is_poured_in_the_unit_that_was_written(step, grams):
    assert cup(f"--base-g 200 {step}").steps[-1].amount_g == pytest.approx(grams)


def test_millilitres_weigh_what_the_base_says():
    shelf = Shelf.of([Base(base_id="oat", name="Oat drink", density_g_per_ml=1.1)], [])
    parser = argparse.ArgumentParser()
    add_step_arguments(parser)
    args = parser.parse_args(["--base-g", "200", "--sip", "20 ml"])
    assert make_cup(args, "oat", shelf).steps[-1].amount_g == pytest.approx(22)


@pytest.mark.parametrize(("words", "minutes"), [("2 hours", 120), ("1,5h", 90), ("5 min", 5), ("5", 5)])
def test_rests_are_read_with_their_unit(words, minutes):
    parser = argparse.ArgumentParser()
    add_step_arguments(parser)
    args = parser.parse_args(["--base-g", "200", "--rest", words])
    assert make_cup(args, "oat", SHELF).steps[-1].minutes == minutes


@pytest.mark.parametrize(
    ("option", "words"),
    [
        *(("pour", words) for words in ("1,000", "3 drops", "20 bars", "20 ml more", "-3", "5 min")),
        *(("rest", words) for words in ("2 days", "20 g", "1,000", "soon")),
        *(("sip", words) for words in ("1 oz", "2 h", "20 20")),
    ],
)
def test_no_unit_is_thrown_away(option, words):
    parser = argparse.ArgumentParser()
    add_step_arguments(parser)
    args = parser.parse_args(["--base-g", "2000", f"--{option}={words}"])
    with pytest.raises(PairingError) as refused:
        make_cup(args, "oat", SHELF)
    assert refused.value.hint
    if words != "-3":
        assert f"--{option}" in refused.value.message


@pytest.mark.parametrize(("system", "quote"), [("linux", "'"), ("darwin", "'"), ("win32", '"')])
def test_a_line_to_be_copied_has_the_quotes_of_the_system(system, quote, monkeypatch):
    monkeypatch.setattr(sys, "platform", system)
    line = log_line("cold coffee", 250, [("add", "rose=2drops")], ["rose water"])
    said = f"--add rose=2drops --strength {quote}rose water={quote}… --liking …"
    assert line == f"pairing log {quote}cold coffee{quote} --base-g 250 {said}"
