"""Imports run one way, without cycles, and each module stays small."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parents[2]
LAYERS = (
    {"errors"},
    {"quantities", "units"},
    {"model"},
    {"nutrition"},
    {"api", "hookspecs"},
    {"store", "host"},
    {"safety"},
    {"learning"},
    {"graph", "plan", "blind", "report"},
    {"learned"},
    {"bench"},
    {"cli", "scaffold", "testing"},
)
"""Parts of the package; each may import its own layer and the ones above it in this list, never one below."""
RANK = {part: rank for rank, layer in enumerate(LAYERS) for part in layer}
PUT_TOGETHER = dict.fromkeys(
    (f"pairing.learning.{name}" for name in ("fit", "stored", "evaluate", "each_rule")), RANK["learned"]
)
"""Modules that make the learned model from its parts, keep it and try it out: they may import it."""
OUTSIDE = ("pairing_plugins", "pairing_dashboard", "streamlit")
MAX_LINES = 400


def modules(folder: str) -> dict[str, Path]:
    root = ROOT / folder
    return {
        ".".join((folder, *path.relative_to(root).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in sorted(root.rglob("*.py"))
        if "templates" not in path.parts
    }


def imports(source: str, known: frozenset[str], *, at_load_only: bool = False) -> Iterator[str]:
    """Names of the modules that a source text imports; type-checking blocks are left out."""

    def walk(node: ast.AST) -> Iterator[str]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test):
                continue
            if at_load_only and isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
                continue
            if isinstance(child, ast.Import):
                yield from (alias.name for alias in child.names)
            elif isinstance(child, ast.ImportFrom) and child.module:
                for alias in child.names:
                    inner = f"{child.module}.{alias.name}"
                    yield inner if inner in known else child.module
            yield from walk(child)

    yield from walk(ast.parse(source))


def against_the_stream(importer: str, imported: str) -> bool:
    """Whether an import inside the package goes from a lower layer to a higher one."""
    if importer == "pairing" or not imported.startswith("pairing."):
        return False
    own = PUT_TOGETHER.get(importer, RANK[importer.split(".")[1]])
    return own < RANK[imported.split(".")[1]]


PAIRING = modules("pairing")
KNOWN = frozenset(PAIRING)


def test_every_part_has_its_layer():
    parts = {name.split(".")[1] for name in PAIRING if "." in name}
    assert parts <= set(RANK), f"give {sorted(parts - set(RANK))} a layer"


@pytest.mark.parametrize("name", sorted(PAIRING))
def test_imports_run_one_way(name):
    wrong = [i for i in imports(PAIRING[name].read_text("utf-8"), KNOWN) if against_the_stream(name, i)]
    assert not wrong


@pytest.mark.parametrize("name", sorted(PAIRING))
def test_package_imports_neither_plugins_nor_dashboard(name):
    found = set(imports(PAIRING[name].read_text("utf-8"), KNOWN))
    launcher = {"pairing.cli.dashboard"}
    assert not [i for i in found if i.split(".")[0] in OUTSIDE and name not in launcher]


def test_plugins_import_the_api_only():
    for name, path in modules("plugins").items():
        inside = [i for i in imports(path.read_text("utf-8"), KNOWN) if i.split(".")[0] == "pairing"]
        assert set(inside) <= {"pairing.api"}, name


def test_no_cycles_among_modules():
    graph = nx.DiGraph()
    for name, path in PAIRING.items():
        for imported in imports(path.read_text("utf-8"), KNOWN, at_load_only=True):
            if imported in PAIRING and imported != name:
                graph.add_edge(name, imported)
    assert not list(nx.simple_cycles(graph))


def test_check_can_fail():
    assert against_the_stream("pairing.store.database", "pairing.bench")
    assert not against_the_stream("pairing.bench", "pairing.store.database")
    source = "def f():\n    from pairing.learned import Learned\nfrom pairing.store import exchange\n"
    assert set(imports(source, frozenset({"pairing.store.exchange"}))) == {"pairing.learned", "pairing.store.exchange"}
    assert set(imports(source, frozenset(), at_load_only=True)) == {"pairing.store"}
    assert not set(imports("if TYPE_CHECKING:\n    import pandas\n", frozenset()))


@pytest.mark.parametrize("folder", ["pairing", "plugins", "dashboard", "demo_data", "tests"])
def test_modules_stay_small(folder):
    long = {
        name: n
        for name, path in modules(folder).items()
        if (n := len(path.read_text("utf-8").splitlines())) > MAX_LINES
    }
    assert not long
