"""Tables for people, one JSON document for programs."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import json
import math
import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.cli.output import Output, column_widths, plain
from pairing.running import apart


@dataclasses.dataclass
class Point:
    x: float
    y: tuple


@pytest.mark.parametrize(
    ("value", "wanted"),
    [
        (np.float64(1.5), 1.5),
        (np.int64(3), 3),
        (np.array([1.0, math.nan]), [1.0, None]),
        (math.inf, None),
        (np.bool_(True), True),
        (frozenset({"b", "a"}), ["a", "b"]),
        (Point(1.0, ({"k": np.float32(0.5)},)), {"x": 1.0, "y": [{"k": 0.5}]}),
        (pd.DataFrame({"a": [1.0, math.nan], "b": ["x", None]}), [{"a": 1.0, "b": "x"}, {"a": None, "b": None}]),
        (pd.NA, None),
        (pd.NaT, None),
        (dt.date(2025, 3, 4), "2025-03-04"),
        (pd.Timestamp("2025-03-04T18:31"), "2025-03-04T18:31:00"),
    ],
)
def test_plain_is_what_json_knows(value, wanted):
    assert plain(value) == wanted


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=20,
    )
)
def test_plain_always_makes_strict_json(value):
    json.dumps(plain(value), allow_nan=False)


def test_table_for_people_has_headers_units_and_a_dash_for_unknown(capsys):
    out = Output()
    out.table(
        "doses",
        [{"id": "plum", "g": 1.23456}, {"id": "[red]x", "g": None}],
        [("id", "flavouring"), ("g", "dose, g/kg")],
    )
    out.close()
    text = capsys.readouterr().out
    assert "dose, g/kg" in text
    assert "1.23" in text
    assert "–" in text
    assert "[red]x" in text  # what people wrote is never markup


def test_json_is_one_document_with_unrounded_values(capsys):
    out = Output(json=True)
    out.say("for people only")
    out.table("doses", pd.DataFrame({"id": ["plum"], "g": [1.23456]}), [("id", "flavouring")])
    out.value("bench", "here")
    out.close()
    assert json.loads(capsys.readouterr().out) == {"doses": [{"id": "plum", "g": 1.23456}], "bench": "here"}


def test_an_output_that_lacks_a_letter_gets_it_written_out(capfd, monkeypatch):
    """On Windows what goes into a file is in the code page of the system."""
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.FileIO(1, "w", closefd=False), "cp1252"))
    for as_json in (True, False):
        with apart():
            out = Output(json=as_json)
            out.value("name", "Żur 🙂")
            out.say("Żur")
            out.close()
    document, _, words = capfd.readouterr().out.rpartition("}")
    assert json.loads(document + "}") == {"name": "Żur 🙂"}
    assert words.strip() == r"\u017bur"


def test_empty_table_says_so(capsys):
    Output().table("doses", [], [("id", "flavouring")], title="Doses", empty="nothing logged yet")
    assert capsys.readouterr().out == "Doses: nothing logged yet\n"


def test_progress_keeps_quiet_without_a_terminal(capsys):
    with Output().progress("Learning") as done:
        done(0.5)
    printed = capsys.readouterr()
    assert printed.out == printed.err == ""


WORDS = st.text("abcdefgh", min_size=1, max_size=12)


@given(st.lists(st.lists(WORDS, max_size=4).map(" ".join), min_size=6, max_size=6), st.integers(5, 90))
def test_no_word_of_a_table_is_broken_and_no_line_is_too_long(cells, width):
    texts = [cells[:3], cells[3:]]
    widths = column_widths(texts, width)
    longest = [max((len(word) for row in texts for word in row[i].split()), default=0) for i in range(3)]
    if widths is None:
        assert sum(longest) + 3 * 2 + 2 > width
    else:
        assert sum(widths) + 3 * 2 + 2 <= width
        assert all(given >= word for given, word in zip(widths, longest, strict=True))


@pytest.mark.parametrize("width", [30, 60, 120])
def test_a_narrow_screen_gets_whole_words(width, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    rows = [{"number": 1, "add": "Elderflower syrup", "dose": "75.7 (65.4–87.6)"}, {"add": "Vanilla extract"}]
    columns = [("number", "#"), ("add", "add"), ("dose", "dose, g/kg (80 %)")]
    Output().table("suggestions", rows, columns, title="What to try next")
    text = capsys.readouterr().out
    assert all(len(line) <= width for line in text.splitlines())
    assert all(word in text for word in ("Elderflower", "(65.4–87.6)", "Vanilla"))
    assert ("  add: Elderflower syrup" in text) == (width == 30)


def test_a_long_line_that_is_set_in_goes_on_further_in(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    Output().say("  1: " + "word " * 20)
    first, *others = capsys.readouterr().out.splitlines()
    assert first.startswith("  1: word")
    assert others
    assert all(line.startswith("    word") and len(line) <= 40 for line in others)
