"""The modules of the house and what each of them imports, read from their source texts."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
FOLDERS = {
    "pairing": "pairing",
    "pairing_plugins": "plugins",
    "pairing_dashboard": "dashboard",
    "pairing_demo_data": "demo_data",
}
HEAVY = (
    "pandas", "scipy", "sklearn", "networkx", "sqlalchemy", "pint", "altair", "streamlit", "numpy", "openpyxl",
    "alembic", "pyarrow", "dask", "distributed", "rich", "defusedxml", "threadpoolctl", "platformdirs", "pluggy",
)  # fmt: skip
"""Libraries that take time to load; importing the package or asking for help loads none of them."""


def modules(folder: str, name: str | None = None) -> dict[str, Path]:
    """Files of the modules in a folder by name."""
    root = ROOT / folder
    return {
        ".".join((name or folder, *path.relative_to(root).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in sorted(root.rglob("*.py"))
        if "templates" not in path.parts
    }


HOUSE = {name: path for package, folder in FOLDERS.items() for name, path in modules(folder, package).items()}


def imports(source: str, *, at_load: bool = False) -> Iterator[str]:
    """Names of the modules that a source text imports, whenever and however it does; or only those at load."""
    for node in _nodes(ast.parse(source), at_load):
        yield from names(node)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and not at_load:
            name = node.value.rstrip(".")  # the beginning of a name that is put together counts for what it begins with
            if "." in name and name in HOUSE:
                yield name


def names(node: ast.AST) -> Iterator[str]:
    """Names of the modules that one statement imports."""
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom) and node.module:
        for alias in node.names:
            inner = f"{node.module}.{alias.name}"
            yield inner if inner in HOUSE else node.module


def late_imports(source: str) -> Iterator[str]:
    """Names of the modules that the functions of a source text import."""
    tree = ast.parse(source)
    early = set(_nodes(tree, at_load=True))
    for node in _nodes(tree, typing=False):
        if node not in early:
            yield from names(node)


def _nodes(node: ast.AST, at_load: bool = False, typing: bool = True) -> Iterator[ast.AST]:
    """Walk a tree; at load neither the insides of functions nor what is for type checking."""
    yield node
    for child in ast.iter_child_nodes(node):
        late = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for_types = isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test)
        if not (at_load and (late or for_types)) and (typing or not for_types):
            yield from _nodes(child, at_load, typing)


@cache
def loads(module: str) -> frozenset[str]:
    """Heavy libraries that importing a module loads: its own imports at the top, and theirs.

    scipy and sklearn load their parts one by one, so each part counts by itself.
    """
    if module not in HOUSE:
        return _library(module)
    seen: set[str] = set()
    waiting, found = [module], set()
    while waiting:
        name = waiting.pop()
        packages = {".".join(name.split(".")[: n + 1]) for n in range(name.count(".") + 1)} - seen
        for one in packages & HOUSE.keys():
            seen.add(one)
            for imported in imports(HOUSE[one].read_text("utf-8"), at_load=True):
                if imported in HOUSE:
                    waiting.append(imported)
                found |= _library(imported)
    return frozenset(found)


def _library(module: str) -> frozenset[str]:
    top = module.split(".", maxsplit=1)[0]
    if top not in HEAVY:
        return frozenset()
    name = ".".join(module.split(".")[:2]) if top in ("scipy", "sklearn") else top
    brings = {"numpy"} if top in ("pandas", "scipy", "sklearn") else {"pandas", "numpy"} if top == "altair" else set()
    return frozenset({name, *brings})
