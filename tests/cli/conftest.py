"""A demo bench for the commands, and a way of asking them."""

from __future__ import annotations

import json
import shutil

import pytest

from pairing.cli import main


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """A demo bench, learned once."""
    folder = tmp_path_factory.mktemp("demo") / "bench"
    assert main(["demo", "--bench", str(folder), "--json"]) == 0
    return folder


@pytest.fixture
def bench(demo, tmp_path):
    """A copy of the demo's bench to write on."""
    return str(shutil.copytree(demo, tmp_path / "bench"))


@pytest.fixture
def ask(capsys):
    """Run a command with --json; return its exit code and document."""

    def run(*words):
        capsys.readouterr()
        code = main([*words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    return run
