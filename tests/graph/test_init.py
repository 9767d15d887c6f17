"""The package of the graph is light and has what it promises."""

import subprocess
import sys

import pairing.graph


def test_names_are_there():
    for name in pairing.graph.__all__:
        assert getattr(pairing.graph, name).__name__ == name
        assert name in dir(pairing.graph)


def test_importing_loads_nothing_heavy():
    code = "import sys, pairing.graph as g, pairing.cli.graph; print(*(m in sys.modules for m in {heavy!r}))"
    heavy = ("numpy", "networkx", "scipy", "pandas")
    run = [sys.executable, "-c", code.format(heavy=heavy)]
    assert set(subprocess.run(run, check=True, capture_output=True, text=True).stdout.split()) == {"False"}
    run[2] = code.replace(";", "; g.from_collections([['a']]);", 1).format(heavy=("numpy",))
    assert subprocess.run(run, check=True, capture_output=True, text=True).stdout.split() == ["True"]
