"""Imports run one way, without cycles, and stand at the top; each module stays small.

Every import counts: at the top, in a function, for type checking only, and by name (``import_module``, or a table of
names that load on first use). What only types know of each other is known all the same. An import stands in a
function only where that keeps the module light: where it loads a heavy library that the module does not load anyway.
"""

from __future__ import annotations

import networkx as nx
import pytest
from house import FOLDERS, HOUSE, imports, late_imports, loads, modules

LAYERS = (
    {"version", "errors", "running", "pairing_demo_data"},
    {"discrimination", "quantities", "units"},
    {"model"},
    {"nutrition"},
    {"graph", "stock"},
    {"api", "hookspecs"},
    {"pairing_plugins"},
    {"host"},
    {"store"},
    {"safety"},
    {"learning"},
    {"plan"},
    {"evening"},
    {"learned"},
    {"pooling"},
    {"bench", "asking"},
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
OUTSIDE = ("pairing_plugins", "pairing_dashboard", "streamlit")
MAX_LINES = 400


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
def test_check_of_late_imports_can_fail(imported, found):
    assert bool(idle("pairing.store.rules", f"def f():\n    {imported}\n")) == found
    assert not idle("pairing.store.rules", f"{imported}\n")


@pytest.mark.parametrize("folder", ["pairing", "plugins", "dashboard", "demo_data", "tests"])
def test_modules_stay_small(folder):
    long = {
        name: n
        for name, path in modules(folder).items()
        if (n := len(path.read_text("utf-8").splitlines())) > MAX_LINES
    }
    assert not long
