"""All tables in one file of JSON lines: one row per line, with the name of its table, for programs that read such.

``pairing export season.bench.jsonl`` writes it, ``pairing load season.bench.jsonl`` reads it. Empty cells are left out.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from pairing.api import PluginError, Reader, Writer, hookimpl

if TYPE_CHECKING:
    import pandas as pd

PAIRING_API = (1, 1)

SUFFIXES = (".bench.jsonl",)
ABOUT = "One row per line, as JSON with its table's name"


def write(tables: Mapping[str, pd.DataFrame], path: Path) -> None:
    """Write every row of every table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        for name, table in tables.items():
            for row in table.astype(object).where(table.notna(), None).to_dict("records"):
                cells = {str(column): cell for column, cell in row.items() if cell is not None}
                file.write(json.dumps({"table": name, **cells}, ensure_ascii=False, default=str) + "\n")


def read(path: Path) -> dict[str, pd.DataFrame]:
    """Read rows, and put those of one table together."""
    import pandas as pd

    rows: dict[str, list[dict[str, object]]] = {}
    for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
        if line.strip():
            try:
                row = json.loads(line)
                rows.setdefault(row.pop("table"), []).append(row)
            except (ValueError, KeyError, AttributeError):
                raise PluginError(f"line {number} is no row of a table", 'write {"table": "bases", …}') from None
    return {name: pd.DataFrame(found) for name, found in rows.items()}


@hookimpl
def pairing_readers() -> list[Reader]:
    """Return the reader."""
    return [Reader(id="lines", suffixes=SUFFIXES, summary=ABOUT, read=read)]


@hookimpl
def pairing_writers() -> list[Writer]:
    """Return the writer."""
    return [Writer(id="lines", suffixes=SUFFIXES, summary=ABOUT, write=write)]
