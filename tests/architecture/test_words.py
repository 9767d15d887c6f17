"""The project speaks of itself only: no path, host or workplace of whoever wrote it, nothing left to do in the code."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FORBIDDEN = {
    "a path of somebody's machine": re.compile(r"(?<![\w.])/(?:home|Users|root|work|tmp/brief)/\w"),
    "a note to oneself": re.compile(r"\b(?:TODO|FIXME|XXX|HACK)\b"),
    "an address of a machine": re.compile(r"\b(?:10|192\.168|172\.(?:1[6-9]|2\d|3[01]))(?:\.\d{1,3}){2,3}\b"),
    "a package index": re.compile(r"https?://[^\s\"']*(?:pypi|simple/|/index)[^\s\"']*", re.IGNORECASE),
}
TEXT = {".py", ".md", ".toml", ".csv", ".css", ".js", ".txt", ".tmpl", ".json", ".cfg", ""}


def project_files() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode == 0 and listed.stdout:
        found = [ROOT / name for name in listed.stdout.split("\0") if name]
    else:  # an unpacked archive
        found = [p for p in ROOT.rglob("*") if p.is_file() and ".venv" not in p.parts]
    return [p for p in found if p.suffix in TEXT and p.is_file()]


def offences(text: str) -> list[str]:
    return [f"{what}: {hit.group()}" for what, pattern in FORBIDDEN.items() for hit in pattern.finditer(text)]


@pytest.mark.parametrize("path", project_files(), ids=lambda p: str(p.relative_to(ROOT)))
def test_no_forbidden_words(path):
    if path == Path(__file__):
        pytest.skip("names them to find them")
    assert not offences(path.read_text("utf-8", errors="replace"))


@pytest.mark.parametrize("text", ["# TO" + "DO later", "open('/ho" + "me/ana/x')", "http://19" + "2.168.3.4/"])
def test_check_can_fail(text):
    assert offences(text)


def test_top_level_names_are_the_agreed_ones():
    shown = {p.relative_to(ROOT).parts[0] for p in project_files()}
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "pairing",
        "plugins",
        "tests",
        "demo_data",
        "dashboard",
    }
    assert {name for name in shown if not name.startswith(".")} <= allowed
