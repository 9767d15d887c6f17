"""Every example in a docstring runs and gives what it says."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for path in sorted((ROOT / "pairing").rglob("*.py"))
    if ">>>" in path.read_text("utf-8") and "templates" not in path.parts
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_say(name):
    result = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert result.attempted
    assert not result.failed


def test_there_are_many_examples():
    assert len(MODULES) > 30
