"""Imports run one way, without cycles, and each module stays small.

Every import counts: at the top, in a function, for type checking only, and by name (``import_module``, or a table of
names that load on first use). What only types know of each other is known all the same.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parents[2]
LAYERS = (
    {"version", "errors"},
    {"quantities", "units"},
    {"model"},
    {"nutrition"},
    {"graph"},
    {"api", "hookspecs"},
    {"pairing_plugins"},
    {"host"},
    {"store"},
    {"safety"},
    {"learning"},
    {"plan"},
    {"learned"},
    {"bench"},
    {"blind"},
    {"report"},
    {"scaffold", "testing"},
    {"pairing_dashboard"},
    {"cli"},
    {"pairing"},
)
"""Parts of the house, the ground first; each may import its own layer and those before it, never one after. ``pairing``
is the face of the package: it hands out names, and nothing inside asks it for any."""
RANK = {part: rank for rank, layer in enumerate(LAYERS) for part in layer}
FOLDERS = {"pairing": "pairing", "pairing_plugins": "plugins", "pairing_dashboard": "dashboard"}
OUTSIDE = ("pairing_plugins", "pairing_dashboard", "streamlit")
MAX_LINES = 400


def modules(folder: str, name: str | None = None) -> dict[str, Path]:
    root = ROOT / folder
    return {
        ".".join((name or folder, *path.relative_to(root).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in sorted(root.rglob("*.py"))
        if "templates" not in path.parts
    }


HOUSE = {name: path for package, folder in FOLDERS.items() for name, path in modules(folder, package).items()}
KNOWN = frozenset(HOUSE)


def imports(source: str, known: frozenset[str] = KNOWN, *, at_load: bool = False) -> Iterator[str]:
    """Names of the modules that a source text imports, whenever and however it does; or only those at load."""
    for node in nodes(ast.parse(source), at_load):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in known else node.module
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and not at_load:
            name = node.value.rstrip(".")  # the beginning of a name that is put together counts for what it begins with
            if "." in name and name in known:
                yield name


def nodes(node: ast.AST, at_load: bool) -> Iterator[ast.AST]:
    """Walk a tree; at load neither the insides of functions nor what is for type checking."""
    yield node
    for child in ast.iter_child_nodes(node):
        late = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        late |= isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test)
        if not (at_load and late):
            yield from nodes(child, at_load)


def part(module: str) -> str:
    """Part of the house that a module belongs to."""
    package, *inner = module.split(".")
    return inner[0] if package == "pairing" and inner else package


def against_the_stream(importer: str, imported: str) -> bool:
    """Whether an import goes from a lower layer to a higher one."""
    return imported.split(".", maxsplit=1)[0] in FOLDERS and RANK[part(importer)] < RANK[part(imported)]


def test_every_part_has_its_layer():
    parts = set(map(part, HOUSE))
    assert parts == set(RANK), f"give {sorted(parts - set(RANK))} a layer, take {sorted(set(RANK) - parts)} out"


@pytest.mark.parametrize("name", sorted(HOUSE))
def test_imports_run_one_way(name):
    assert not [i for i in imports(HOUSE[name].read_text("utf-8")) if against_the_stream(name, i)]


@pytest.mark.parametrize("name", sorted(name for name in HOUSE if name.split(".")[0] == "pairing"))
def test_package_imports_neither_plugins_nor_dashboard(name):
    assert not [i for i in imports(HOUSE[name].read_text("utf-8")) if i.split(".")[0] in OUTSIDE]


def test_plugins_import_the_api_only():
    for name, path in modules("plugins").items():
        inside = [i for i in imports(path.read_text("utf-8")) if i.split(".")[0] == "pairing"]
        assert set(inside) <= {"pairing.api"}, name


def test_no_cycles_among_modules():
    graph = nx.DiGraph()
    for name, path in HOUSE.items():
        found = imports(path.read_text("utf-8"), at_load=True)
        graph.add_edges_from((name, imported) for imported in found if imported in HOUSE and imported != name)
    assert not list(nx.simple_cycles(graph))


def test_check_can_fail():
    assert against_the_stream("pairing.store.database", "pairing.bench")
    assert against_the_stream("pairing_dashboard.session", "pairing.cli.common")
    assert against_the_stream("pairing.bench", "pairing")
    assert not against_the_stream("pairing.bench", "pairing.store.database")
    assert not against_the_stream("pairing.bench", "pandas")


@pytest.mark.parametrize(
    "source",
    [
        "def f():\n    from pairing.store import exchange",
        "if TYPE_CHECKING:\n    import pairing.store.exchange",
        "def f():\n    import_module('pairing.store.exchange').clean()",
        "_PUBLIC = {'clean': 'pairing.store.exchange'}",
    ],
)
def test_every_way_to_import_is_seen(source):
    assert set(imports(source)) == {"pairing.store.exchange"}
    assert "pairing.store" in set(imports("import_module(f'pairing.store.{name}')"))
    assert not set(imports(source, at_load=True))


@pytest.mark.parametrize("folder", ["pairing", "plugins", "dashboard", "demo_data", "tests"])
def test_modules_stay_small(folder):
    long = {
        name: n
        for name, path in modules(folder).items()
        if (n := len(path.read_text("utf-8").splitlines())) > MAX_LINES
    }
    assert not long
