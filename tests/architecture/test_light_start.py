"""Importing the package and asking for help load nothing heavy."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from house import HEAVY
from small_logs import BASES, FLAVOURINGS

from pairing import Bench


def loaded(code: str) -> set[str]:
    """Heavy libraries that a fresh interpreter has loaded after running the code."""
    ask = f"\nimport json, sys\nprint(json.dumps([n for n in {HEAVY!r} if n in sys.modules]), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code + ask], capture_output=True, text=True, check=True)
    return set(json.loads(done.stderr.splitlines()[-1]))


HELP = """
import contextlib
from pairing.cli import main
with contextlib.suppress(SystemExit):
    main({words!r})
"""


def test_import_loads_nothing_heavy():
    assert loaded("import pairing") == set()


@pytest.mark.parametrize("words", [["--help"], ["suggest", "--help"], ["log", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(words):
    assert loaded(HELP.format(words=words)) == set()


def test_commands_load_nothing_heavy():
    code = "import importlib\nfrom pairing.cli.names import *\nfor c in COMMANDS: importlib.import_module(module_of(c))"
    assert loaded(code) == set()


def test_unknown_command_looks_among_plugins_only():
    assert loaded(HELP.format(words=["no-such-command"])) <= {"numpy", "pluggy", "platformdirs"}


def test_value_objects_need_no_tables():
    code = "from pairing import Base, Brief, Cup, Flavouring, Recipe\nCup('oat', base_g=100).add('plum', g=1)"
    assert loaded(code) <= {"numpy"}


def test_check_can_fail():
    assert "pandas" in loaded("import pairing, pandas")
    assert "numpy" in loaded("import numpy")


@pytest.mark.parametrize("words", ["log oat --base-g 250 --add quince=8drops --strength quince=2 --liking 5", "undo"])
def test_a_cup_comes_and_goes_without_tables(words, tmp_path):
    Bench.create(tmp_path).load(bases=BASES, flavourings=FLAVOURINGS)
    said = [*words.split(), "--bench", str(tmp_path)]
    code = f"from pairing.cli import main\nassert main({said!r}) == 0"
    assert loaded(code) <= {"numpy", "pluggy", "platformdirs", "sqlalchemy", "rich"}
