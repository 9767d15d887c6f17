"""Which plugin folders may run: those whose content somebody said yes to on this machine.

A bench can come from anyone, and the files in its plugin folder are programs. They run only after `trust`, and only
while the folder holds what it held then: another byte, another name, one file more, and it has to be trusted again.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

import platformdirs

from pairing.errors import PluginError, in_shell

__all__ = [
    "EDITED",
    "FOLDER",
    "content_hash",
    "how_to_trust",
    "is_kept",
    "is_trusted",
    "kept_in",
    "may_trust_next",
    "trust",
]

FOLDER = "plugins"
"""Folder within a bench whose ``*.py`` files are plugins; files that start with ``_`` are not."""
EDITED = "PAIRING_EDITED_PLUGINS"
"""Environment variable that tells the dashboard's process which plugin folder is being edited."""
_edited: set[Path] = set()
"""Folders that this process trusts whatever they hold."""


def trust(bench_folder: str | Path, *, editing: bool = False) -> Path:
    """Let the files in a bench's plugin folder run from now on, as they are now.

    Parameters
    ----------
    bench_folder : path
        The bench, as for `pairing.host.load`.
    editing : bool
        Trust whatever the folder holds until this process ends, and keep nothing beyond that.

    Returns
    -------
    Path
        The plugin folder.

    Raises
    ------
    PluginError
        When there is no such folder, or it holds what cannot be hashed: a link to a folder, a pipe, a file that cannot
        be read.
    """
    folder = (Path(bench_folder) / FOLDER).resolve()
    if not folder.is_dir():
        raise PluginError(f"there is no folder {folder}", "name the bench whose plugins are meant")
    digest = content_hash(folder)
    if editing:
        _edited.add(folder)
    elif _line(folder, digest) not in _kept_lines():
        _keep(folder, digest)
    return folder


def is_trusted(folder: Path) -> bool:
    """Tell whether a plugin folder may run: it holds what was trusted, or is being edited in this process."""
    where = folder.resolve()
    return where in _edited or os.environ.get(EDITED) == str(where) or is_kept(where)


def is_kept(folder: Path) -> bool:
    """Tell whether what a plugin folder holds now was trusted on this machine."""
    try:
        return _line(folder.resolve(), content_hash(folder)) in _kept_lines()
    except PluginError:
        return False


def may_trust_next(bench_folder: Path) -> bool:
    """Tell whether a file that we write into a bench's plugin folder may be trusted: nothing else came with it."""
    folder = bench_folder / FOLDER
    return not folder.exists() or not any(folder.iterdir()) or is_kept(folder)


def kept_in() -> Path:
    """Return the file that keeps what is trusted, a hash and a folder per line; without its line trust is gone."""
    return platformdirs.user_config_path("pairing", appauthor=False) / "trusted-plugins.txt"


def how_to_trust(bench_folder: Path) -> str:
    """Return the remedy for a bench whose plugin files are not trusted."""
    bench = in_shell(str(bench_folder))
    return f"read what is in {bench_folder / FOLDER}, then: pairing plugins --trust --bench {bench}"


def content_hash(folder: Path) -> str:
    """Hash names and contents of everything in a folder, whatever it is for.

    Nothing is left out, ``__pycache__`` neither: Python may run what lies there in place of the source.

    Raises
    ------
    PluginError
        When something in it is neither a file that can be read nor a folder.
    """
    whole = hashlib.sha256()
    for name, kind, content in _entries(folder):
        whole.update(f"{kind}{len(name)}:".encode() + name + content)
    return whole.hexdigest()


def _entries(folder: Path) -> Iterator[tuple[bytes, str, bytes]]:
    """Yield relative name, kind and hash of the content of everything below a folder, in one order."""
    for here, folders, files in os.walk(folder, onerror=_refuse):
        folders.sort(key=os.fsencode)  # in place: the walk goes on in this order
        for path in (Path(here, name) for name in sorted((*folders, *files), key=os.fsencode)):
            name = os.fsencode(path.relative_to(folder))
            if path.is_dir() and not path.is_symlink():
                yield name, "folder", b""
            elif path.is_file():
                yield name, "file", _file_hash(path)
            else:
                raise PluginError(f"{path} is neither a file nor a folder of its own", "copy in what it leads to")


def _file_hash(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").digest()
    except OSError as error:
        _refuse(error)


def _refuse(error: OSError) -> NoReturn:
    raise PluginError(f"{error.filename} cannot be read: {error.strerror}", "let it be read, or remove it") from None


def _line(folder: Path, digest: str) -> str:
    return f"{digest}  {str(folder)!a}"


def _kept_lines() -> list[str]:
    try:
        return kept_in().read_text("utf-8", "surrogateescape").splitlines()
    except OSError:
        return []


def _keep(folder: Path, digest: str) -> None:
    """Keep what a folder holds, in place of what it held when it was trusted before."""
    file = kept_in()
    others = [line for line in _kept_lines() if not line.endswith(f"  {str(folder)!a}")]
    text = "".join(f"{line}\n" for line in (*others, _line(folder, digest)))
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_name(f"{file.name}.{os.getpid()}")
        part.write_text(text, "utf-8", "surrogateescape")
        part.replace(file)
    except OSError as error:
        raise PluginError(
            f"{file} cannot be written: {error.strerror}", "let it be written, or use --editing"
        ) from None
