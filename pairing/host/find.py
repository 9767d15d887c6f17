"""Finding plugins: entry points of installed packages, and files in the bench's folder. Nothing is imported here.

Whoever installs a package trusts it; files that came with a bench are marked as not trusted until somebody says so.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import os
import sys
import types
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from pairing.host.guard import attempt
from pairing.host.trusted import FOLDER, is_trusted

__all__ = ["ENTRY_POINTS", "Found", "file_found", "find", "plugin_name"]

ENTRY_POINTS = "pairing.plugins"
"""Group of the entry points: ``[project.entry-points."pairing.plugins"]`` in a plugin's ``pyproject.toml``."""
SHIPPED = "pairing_plugins"
"""The package of the plugins that come with the tool."""


@dataclass(frozen=True)
class Found:
    """A plugin that is there but not imported yet.

    Attributes
    ----------
    name : str
    origin : str
        ``package NAME`` or the file.
    version : str
        The package's version, or the first digits of the file's content hash.
    bring : callable
        Imports the plugin and returns its module.
    trusted : bool
        Whether it may be imported.
    folder : Path or None
        Of a file: all that lies in it may change what the plugin answers.
    source : bytes
        Of a file: what is in it.
    module : str
        Of a package: the module's name.
    """

    name: str
    origin: str
    version: str
    bring: Callable[[], Any]
    trusted: bool = True
    folder: Path | None = None
    source: bytes = b""
    module: str = ""

    @property
    def shipped(self) -> bool:
        """Whether it comes with the tool itself."""
        return self.module.partition(".")[0] == SHIPPED


def plugin_name(text: str) -> str:
    """Return a plugin's name as people write it: lower case, with hyphens.

    Examples
    --------
    >>> plugin_name("Salt_with_Bitter ")
    'salt-with-bitter'
    """
    return text.strip().casefold().replace("_", "-").replace(" ", "-")


def find(bench_folder: Path | None = None) -> list[Found]:
    """Return every plugin in reach, sorted by name; of two with one name the package comes before the file."""
    found = [*_installed(), *(_files(bench_folder / FOLDER) if bench_folder else ())]
    return sorted(found, key=lambda f: (f.name, not f.origin.startswith("package "), f.origin))


def _installed() -> Iterator[Found]:
    packages: dict[int, tuple[str, str]] = {}
    for point in _points(tuple(map(_installed_in, sys.path))):
        package = point.dist
        if package is None:
            origin, version = f"package of {point.module}", "unknown"
        else:
            if id(package) not in packages:
                stated, _ = attempt(partial(getattr, package, "version"), plugin=point.name, stage="find")
                packages[id(package)] = f"package {package.name}", stated or "unknown"
            origin, version = packages[id(package)]
        yield Found(plugin_name(point.name), origin, version, point.load, module=point.module)


@lru_cache(maxsize=1)
def _points(_: tuple[tuple[tuple[str, int, int], ...], ...]) -> tuple[importlib.metadata.EntryPoint, ...]:
    """Return the entry points of all plugins; every package is read again only when one of them has changed."""
    return tuple(importlib.metadata.entry_points(group=ENTRY_POINTS))


def _installed_in(path: str) -> tuple[tuple[str, int, int], ...]:
    """Tell the packages in a place of ``sys.path`` from what they were, without reading them: file, time and size."""
    try:
        files = [os.path.join(path, name, "entry_points.txt") for name in os.listdir(path or ".") if "-info" in name]
    except OSError:  # an archive, or nothing
        files = [path]
    return tuple((file, s.st_mtime_ns, s.st_size) for file in files if (s := _stat(file)) is not None)


def _stat(file: str) -> os.stat_result | None:
    try:
        return os.stat(file)
    except OSError:
        return None


def _files(folder: Path) -> Iterator[Found]:
    paths = [path for path in sorted(folder.glob("*.py")) if not path.name.startswith(("_", "."))]
    trusted = bool(paths) and is_trusted(folder)
    for path in paths:
        yield _file(plugin_name(path.stem), path, trusted)


def _file(name: str, path: Path, trusted: bool) -> Found:
    try:
        source = path.read_bytes()
    except OSError:
        return Found(name, str(path), "unreadable", path.read_bytes, trusted)  # tells why when it is brought
    return file_found(name, path, source, trusted)


def file_found(name: str, path: Path, source: bytes, trusted: bool) -> Found:
    """Return a plugin that is one file, of which this is the content."""
    digest = hashlib.sha256(source).hexdigest()[:12]
    return Found(name, str(path), digest[:8], _runner(name, path, source, digest), trusted, path.parent, source)


def _runner(name: str, path: Path, source: bytes, digest: str) -> Callable[[], types.ModuleType]:
    """Return what runs a file as a module named after its content: an edited file is another module.

    The file is compiled from what was hashed, not through the bytecode cache, whose time stamps are too coarse for a
    file that is edited and loaded again within a second. Nor may Python cache what the file imports from beside it:
    that would change the folder, which is trusted as it was.
    """

    def run() -> types.ModuleType:
        sys.dont_write_bytecode = True
        module = types.ModuleType(f"pairing_dropin_{name.replace('-', '_')}_{digest}")
        module.__file__ = str(path)
        code = compile(source, str(path), "exec", dont_inherit=True)
        with contextlib.ExitStack() as undo:
            sys.modules[module.__name__] = module
            undo.callback(sys.modules.pop, module.__name__)
            exec(code, module.__dict__)
            undo.pop_all()
        return module

    return run
