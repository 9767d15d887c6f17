"""A demo bench for the commands, and a way of asking them."""

from __future__ import annotations

import json
import shutil

import pytest

from pairing import Bench
from pairing.cli import main


@pytest.fixture(scope="module")
def demo(learned_demo, tmp_path_factory):
    """A copy of the demo's bench for the tests of one file."""
    return shutil.copytree(learned_demo, tmp_path_factory.mktemp("demo") / "bench")


@pytest.fixture(scope="session")
def demo_on_server(server, learned_demo, tmp_path_factory):
    """The demo's tables in a database of the server, which tests copy; its name."""
    server.execute("CREATE DATABASE demo")
    bench = Bench.create(server.url(database="demo"))
    bench.load(Bench.open(learned_demo).export(tmp_path_factory.mktemp("demo-on-server") / "out"))
    return "demo"


@pytest.fixture
def bench(engine, request, tmp_path):
    """A copy of the demo's bench to write on: a folder, and a database of a server."""
    if engine == "sqlite":
        return str(shutil.copytree(request.getfixturevalue("demo"), tmp_path / "bench"))
    return request.getfixturevalue("server").copy(request.getfixturevalue("demo_on_server"), "demo copy")


@pytest.fixture
def ask(capsys):
    """Run a command with --json; return its exit code and document."""

    def run(*words):
        capsys.readouterr()
        code = main([*words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    return run
