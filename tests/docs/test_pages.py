"""The pages for contributors are held to the code: links, rooms, places, and the example of a command."""

from __future__ import annotations

import json
import re
import sys
import types
from pathlib import Path

import pytest

import pairing
from pairing.cli import main, names

ROOT = Path(__file__).parents[2]
PAGES = [
    "README.md",
    "DEVELOPERS.md",
    "plugins/README.md",
    "tests/benchmarks/README.md",
    "pairing/CHANGELOG.md",
    "pairing/safety/SOURCES.md",
]
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def section(title: str) -> str:
    found = re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", GUIDE, re.MULTILINE | re.DOTALL)
    assert found, f"no section {title}"
    return found.group(1)


@pytest.mark.parametrize("name", PAGES)
def test_links_lead_somewhere(name):
    page = ROOT / name
    for target in re.findall(r"\]\((?!https?://|#)([^)#]+)", page.read_text("utf-8")):
        assert (page.parent / target).exists(), target


def test_every_room_of_the_house_is_told():
    told = {
        name
        for line in section("The house").splitlines()
        if line.startswith("| `")
        for name in re.findall(r"`(\w+)`", line.split(" | ")[0])
    }
    inside = (ROOT / "pairing").iterdir()
    there = {path.stem for path in inside if path.suffix == ".py" or (path / "__init__.py").exists()}
    assert told == there - {"__init__", "units"}


def test_what_one_touches_is_there():
    places = re.findall(r"`((?:pairing|plugins)/[\w/.]*)`", section("Where to change what").partition("### ")[0])
    assert len(places) > 6
    for place in places:
        assert (ROOT / place).exists(), place


def test_files_that_benchmarks_are_named_after_are_there():
    text = (ROOT / "tests" / "benchmarks" / "README.md").read_text("utf-8")
    scripts = set(re.findall(r"\b(\w+\.py)\b", text))
    assert {path.name for path in (ROOT / "tests" / "benchmarks").glob("*.py")} - {"learn_common.py"} <= scripts
    for name in scripts:
        assert list((ROOT / "tests").rglob(name)), name


def test_the_example_of_a_command_is_one(tmp_path, monkeypatch, capsys):
    body = re.search(r"^`pairing/cli/tally.py`\n\n```python\n(.*?)^```$", section("Where to change what"), re.M | re.S)[
        1
    ]
    tally = types.ModuleType(names.module_of("tally"))
    exec(compile(body, "DEVELOPERS.md", "exec"), tally.__dict__)
    monkeypatch.setitem(sys.modules, tally.__name__, tally)
    monkeypatch.setattr("pairing.cli.entry.COMMANDS", {**names.COMMANDS, "tally": "count the cups of each base"})
    folder = str(tmp_path / "bench")
    cups = [("a", "oat"), ("a", "oat"), ("b", "oat"), ("c", "rye")]
    pairing.Bench.create(folder).load(
        bases=_table(("base_id", "name"), [("oat", "Oat"), ("rye", "Rye")]),
        flavourings=_table(
            ("flavouring_id", "name", "label_dose_g_per_kg"), [("plum", "Plum", 2), ("mint", "Mint", 1)]
        ),
        readings=_table(
            ("trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "liking"),
            [(*cup, item, 1.0, 5) for cup, item in zip(cups, ("plum", "mint", "plum", "mint"), strict=True)],
        ),
    )
    capsys.readouterr()
    assert main(["tally", "--bench", folder, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["cups"] == [{"base_id": "oat", "cups": 2}, {"base_id": "rye", "cups": 1}]
    assert main(["tally", "--bench", folder, "--at-least", "3"]) == 1
    assert "no base has 3 cups or more" in capsys.readouterr().err


def _table(columns, rows):
    import pandas as pd

    return pd.DataFrame(rows, columns=columns)


def test_the_list_of_changes_begins_with_this_version():
    text = (ROOT / "pairing" / "CHANGELOG.md").read_text("utf-8")
    first = re.findall(r"^## (.+)$", text, re.MULTILINE)[0]
    assert first in (pairing.__version__, f"Since {pairing.__version__}")
