"""What a plugin's answers rest on, as a hash: its code and data, its settings, and what it says that it depends on."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pairing.errors import PluginError

__all__ = ["Known", "declared", "own_content"]

Known = dict[Path, str]
"""Hashes of folders that several plugins share, taken once per load."""
_AFRESH = "its answers are learned afresh each time"


def own_content(module: Any, settings: Mapping[str, Any], folder: Path | None, known: Known) -> str:
    """Hash a plugin's code with everything beside it, its settings, and what its ``depends_on`` names.

    Parameters
    ----------
    module : module
    settings : mapping
    folder : Path or None
        Of the plugin files of a bench; None for an installed module, whose whole package counts.
    known : dict
        Filled in.

    Raises
    ------
    PluginError
        When something in it cannot be read.
    """
    folders = [folder] if folder is not None else _package_folders(module)
    parts = [_folder(path, known) for path in folders] or [_file(_file_of(module))]
    parts += [repr(sorted(settings.items())), declared(module, module)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:12]


def declared(thing: Any, module: Any) -> str:
    """Return what the ``depends_on`` of a rule or a plugin says, content in place of paths; empty without one.

    Raises
    ------
    PluginError
        When it holds something else than paths and texts, or a path cannot be read.
    """
    given = getattr(thing, "depends_on", ())
    parts = [given] if isinstance(given, str | os.PathLike) else given
    return "\n".join(_content(part, module) for part in _listed(parts))


def _listed(parts: Any) -> list[Any]:
    if not isinstance(parts, Iterable) or not all(isinstance(part, str | os.PathLike) for part in parts):
        raise PluginError(
            f"depends_on is {parts!r}, paths and texts are needed", 'write depends_on=(Path("prices.csv"), "tariff 7")'
        )
    return list(parts)


def _content(part: str | os.PathLike[str], module: Any) -> str:
    if isinstance(part, str):
        return repr(part)
    file = getattr(module, "__file__", None)
    path = (Path(file).parent if file else Path()) / part
    return _folder(path, {}) if path.is_dir() else _file(path)


def _package_folders(module: Any) -> list[Path]:
    top = sys.modules.get(getattr(module, "__name__", "").partition(".")[0])
    return [Path(path) for path in getattr(top, "__path__", ())]


def _file_of(module: Any) -> Path:
    file = getattr(module, "__file__", None)
    if not file:
        raise PluginError(f"it lies in no file: {_AFRESH}", 'name a version of it: depends_on = "1"')
    return Path(file)


def _folder(folder: Path, known: Known) -> str:
    """Hash names and contents below a folder; what Python caches there says nothing new."""
    if folder not in known:
        files = (path for path in folder.rglob("*") if path.is_file() and "__pycache__" not in path.parts)
        text = "\n".join(f"{path.relative_to(folder)}: {_file(path)}" for path in sorted(files))
        known[folder] = hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()
    return known[folder]


def _file(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise PluginError(
            f"{path} cannot be read, {error.strerror}: {_AFRESH}", "let it be read, or take it out of depends_on"
        ) from None
