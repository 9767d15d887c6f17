"""Writing a new plugin: an installable package with its test, or one file for a bench's folder."""

from __future__ import annotations

import keyword
import re
from importlib import resources
from pathlib import Path
from string import Template

from pairing.errors import PluginError
from pairing.host.find import plugin_name
from pairing.host.trusted import FOLDER
from pairing.scaffold.kinds import CONTRACTS, KINDS, MORE, OWN_TEST

__all__ = ["write_file", "write_package"]

_NAME = re.compile(r"(?!(con|prn|aux|nul|com\d|lpt\d)$)[a-z][a-z0-9]*(-[a-z0-9]+)*")
"""Some words are devices on Windows, whatever ending a file has."""


def write_package(name: str, kind: str, into: Path) -> list[Path]:
    """Write an installable package ``NAME/`` with a working example, a contract test and a short README.

    Parameters
    ----------
    name : str
        Such as ``salt-and-smoke``.
    kind : str
        One of `pairing.scaffold.kinds.KINDS`.
    into : Path
        Folder that the package's own folder is made in.

    Returns
    -------
    list of Path
        The files, in the order in which to read them.

    Raises
    ------
    PluginError
        When the name cannot be one, or something is there already. Nothing is overwritten.
    """
    words = _words(name)
    folder = into / words["name"]
    files = {
        "README.md": "package.md.tmpl",
        f"{words['module']}.py": f"{_kind(kind)}.py.tmpl",
        f"tests/test_{words['module']}.py": f"test_{kind if kind in OWN_TEST else 'contract'}.py.tmpl",
        "pyproject.toml": "package.toml.tmpl",
    }
    return _write(folder, files, {**words, "contract": CONTRACTS[kind], "more": MORE.get(kind, "")})


def write_file(name: str, kind: str, bench: Path) -> list[Path]:
    """Write one file ``plugins/NAME.py`` into a bench's folder, loaded from there without installing anything."""
    words = _words(name)
    return _write(bench / FOLDER, {f"{words['name'].replace('-', '_')}.py": f"{_kind(kind)}.py.tmpl"}, words)


def _words(name: str) -> dict[str, str]:
    tidy = plugin_name(name)
    if not _NAME.fullmatch(tidy) or len(tidy) > 40 or keyword.iskeyword(tidy):
        raise PluginError(
            f"{name!r} cannot be a plugin's name", "use up to 40 letters, digits and hyphens, such as salt-and-smoke"
        )
    module = f"pairing_{tidy.replace('-', '_')}"
    title = "".join(part.capitalize() for part in tidy.split("-"))
    return {"name": tidy, "module": module, "title": title}


def _kind(kind: str) -> str:
    if kind not in KINDS:
        raise PluginError(f"kind {kind!r} is not known", f"use one of: {', '.join(KINDS)}")
    return kind


def _write(folder: Path, files: dict[str, str], words: dict[str, str]) -> list[Path]:
    paths = {folder / target: template for target, template in files.items()}
    if there := [path for path in paths if path.exists()]:
        raise PluginError(f"{there[0]} is there already", "choose another name or another folder")
    for path, template in paths.items():
        text = resources.files("pairing.scaffold").joinpath(template).read_text("utf-8")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(Template(text).substitute(words), "utf-8")
    return list(paths)
