"""Lint, format and types are part of the tests: one command runs all checks."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from house import HOUSE

ROOT = Path(__file__).parents[2]


def run(*words):
    return subprocess.run([sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True, check=False)


def test_ruff_finds_nothing():
    done = run("ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def test_ruff_would_format_nothing():
    done = run("ruff", "format", "--check", ".")
    assert done.returncode == 0, done.stdout


@pytest.mark.slow
def test_types_fit(tmp_path):
    done = run("mypy", "--cache-dir", str(tmp_path / "cache"))
    assert done.returncode == 0, done.stdout
    assert int(re.search(r"(\d+) source files", done.stdout)[1]) >= len(HOUSE)


def test_check_can_fail(tmp_path):
    shutil.copy2(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / "bad.py").write_text("import os\n", encoding="utf-8")
    done = run("ruff", "check", "--config", str(tmp_path / "pyproject.toml"), str(tmp_path / "bad.py"))
    assert done.returncode == 1
    assert "unused-import" in done.stdout
