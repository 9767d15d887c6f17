"""What holds for all tests."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def wide(monkeypatch):
    """Give tables room, whatever terminal the tests run in."""
    monkeypatch.setenv("COLUMNS", "140")
