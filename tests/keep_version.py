"""Keep a bench of the tables as they are now, before they change: ``python tests/keep_version.py [FOLDER]``.

This program opens the bench that was kept last, in a file and on a server, which makes it one of this version; loads
the folder's tables, with cells in the columns that are new since then; and keeps it beside the others.
"""

from __future__ import annotations

import re
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pandas as pd
from postgres import Server, binaries

from pairing import Bench
from pairing.store.database import FILE_NAME
from pairing.store.schema import SCHEMA_VERSION, metadata

__all__ = ["keep"]

KEPT = Path(__file__).parent / "store" / "kept"
TOLD = ["revision", "action", "table", "state", "taster", "reading", "flavouring_id", "step", "strength", "liking"]
"""What is kept of the history of each trial."""


def grown(place: str | Path, more: Path | None) -> Bench:
    """Open a bench of an earlier version, and load what is new."""
    bench = Bench.open(place, author="ana")
    if more is not None and len(refused := bench.load(more, on_conflict="revise").refused):
        raise SystemExit(refused.to_string())
    return bench


def keep(into: Path, more: Path | None = None) -> Path:
    """Write a bench of this version as a file, an export and the history of each trial, and return its folder."""
    before, folder = KEPT / f"version-{SCHEMA_VERSION - 1}", into / f"version-{SCHEMA_VERSION}"
    with tempfile.TemporaryDirectory() as place:
        shutil.copy(before / FILE_NAME, place)
        bench = grown(place, more)
        bench.export(folder / "export")
        with (
            closing(sqlite3.connect(Path(place) / FILE_NAME)) as now,
            closing(sqlite3.connect(folder / FILE_NAME)) as to,
        ):
            now.backup(to)
            trials = [row[0] for row in now.execute("SELECT DISTINCT trial_id FROM readings ORDER BY 1")]
        told = [bench.history(trial).assign(of=trial).reindex(columns=["of", *TOLD]) for trial in trials]
    pd.concat(told).to_csv(folder / "history.csv", index=False)
    return folder


def dump(more: Path | None = None) -> str:
    """Return the same bench as SQL, from a private server, without what it kept of the version before."""
    programs = binaries()
    if programs is None:
        raise SystemExit("no PostgreSQL server is installed: Debian's package postgresql")
    server = Server(programs)
    try:
        server.restore(KEPT / f"version-{SCHEMA_VERSION - 1}" / "bench.sql")
        grown(server.url(), more)
        then = [f"version_{SCHEMA_VERSION - 1}_{name}" for name in metadata(False).tables]
        server.execute(*(f"DROP TABLE IF EXISTS {name}" for name in then))
        return re.sub(r"(?m)^\\(un)?restrict .*\n", "", server.dump())
    finally:
        server.stop()


if __name__ == "__main__":
    more = Path(sys.argv[1]) if sys.argv[1:] else None
    (keep(KEPT, more) / "bench.sql").write_text(dump(more), "utf-8")
