"""Imports stand at the top of a module; in a function only where that keeps the module light.

That is: where the import loads a heavy library that importing the module does not load anyway.
"""

from __future__ import annotations

import pytest
from house import HOUSE, late_imports, loads


def idle(module: str, source: str) -> list[str]:
    """Imports in the functions of a module that keep nothing light."""
    return [name for name in late_imports(source) if not loads(name) - loads(module)]


@pytest.mark.parametrize("name", sorted(HOUSE))
def test_a_late_import_keeps_something_light(name):
    wrong = idle(name, HOUSE[name].read_text("utf-8"))
    assert not wrong, f"import {', '.join(wrong)} at the top of {name}"


@pytest.mark.parametrize(
    ("imported", "found"),
    [
        ("from pairing.model.recipe import Recipe", True),  # light
        ("from pairing.graph import build", False),  # loads networkx
        ("import json", True),
        ("import pandas", False),
        ("import numpy", True),  # loaded anyway
        ("from scipy.optimize import brentq", False),
    ],
)
def test_check_can_fail(imported, found):
    assert bool(idle("pairing.store.rules", f"def f():\n    {imported}\n")) == found
    assert not idle("pairing.store.rules", f"{imported}\n")
