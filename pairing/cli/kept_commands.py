"""Commands that plugins bring, as they were when last loaded: the help lists them without loading any plugin."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

__all__ = ["keep_commands", "kept_commands"]

FILE = ".plugin-commands.json"
"""File within a bench; it holds names and summaries, and nothing is run because of it."""
MOST = 100
LONGEST = 80


def keep_commands(bench_folder: Path, commands: Iterable[tuple[str, str]]) -> None:
    """Keep names and summaries beside the bench; where that cannot be, the help goes without."""
    found = dict(commands)
    path = bench_folder / FILE
    with contextlib.suppress(OSError):
        if found and bench_folder.is_dir():
            path.write_text(json.dumps(found, ensure_ascii=False), "utf-8")
        elif path.exists():
            path.unlink()


def kept_commands(bench_folder: str | os.PathLike[str]) -> Mapping[str, str]:
    """Return what was kept, as plain text of one line each."""
    with contextlib.suppress(OSError, ValueError):
        found = json.loads((Path(bench_folder) / FILE).read_text("utf-8"))
        if isinstance(found, dict):
            return {_line(name): _line(summary) for name, summary in list(found.items())[:MOST] if _line(name)}
    return {}


def _line(text: object) -> str:
    """Return text that is no more than text: a bench may come from anyone."""
    return "".join(c for c in str(text) if c.isprintable())[:LONGEST].replace("%", "%%").strip()
