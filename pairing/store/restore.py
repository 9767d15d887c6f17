"""An export read back: its tables, and the past behind them for a bench that is empty."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError
from pairing.model.columns import TABLES
from pairing.store import ledger, undoing
from pairing.store.archive import BEFORE, BESIDE, PAST, REVISION, UNFINISHED
from pairing.store.cells import read_column
from pairing.store.problems import Problems
from pairing.store.sheets import sheet_names
from pairing.store.sources import read

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["Past", "past_in", "restore_replaced", "restore_revisions", "tables_in", "undos"]

_WITHOUT = "leave it away to load the tables alone"
Past = dict[str, Any]
"""Sheets or files with revisions, with what rows were before, and with what is no table, by name."""


def _parts_in(source: Path, names: Sequence[str]) -> dict[str, Callable[[], pd.DataFrame]]:
    """Find the named parts of an exported folder or workbook."""
    if source.is_dir():
        if (source / UNFINISHED).exists():
            raise TableError(
                f"an export to {source} was stopped half-way: its files are of two exports", "export to it again"
            )
        paths = {name: source / f"{name}.csv" for name in names}
        return {name: lambda p=path: read(p) for name, path in paths.items() if path.is_file()}  # type: ignore[misc]
    if source.suffix.casefold() in (".xlsx", ".xlsm") and source.is_file():
        there = sheet_names(source)
        return {name: lambda n=name: read(source, n) for name in names if name in there}  # type: ignore[misc]
    raise TableError(
        f"{source} is no folder or workbook with tables",
        "name the table of each file: --readings FILE (readings=… in Python)",
    )


def tables_in(source: str | Path) -> dict[str, pd.DataFrame]:
    """Read the tables of an exported folder or workbook, by name."""
    found = {name: get() for name, get in _parts_in(Path(source), list(TABLES)).items()}
    if not found:
        raise TableError(f"{source} has no tables of a bench", f"name them: {', '.join(TABLES)}")
    return found


def past_in(source: str | Path) -> Past:
    """Read revisions and replaced rows of an export, settings and cups in hand; empty when it has no revisions."""
    names = [PAST, *(BEFORE.format(name) for name in TABLES), *BESIDE]
    found = {name: get() for name, get in _parts_in(Path(source), names).items()}
    return found if PAST in found else {}


def undos(past: Past) -> set[int]:
    """Return the revisions of an export that are undos: what they wrote is what was there before."""
    rows = past[PAST]
    return {int(n) for n, undoes in zip(rows["revision"], rows["undoes"], strict=True) if str(undoes or "").strip()}


def restore_revisions(tx: Transaction, past: Past) -> None:
    """Put the revisions of an export into an empty bench.

    Raises
    ------
    TableError
        When they are not as they were exported.
    """
    rows = past[PAST].astype(object).where(past[PAST].notna(), "").to_dict("records")
    try:
        done: list[dict[str, Any]] = [{name: str(row[name]) or None for name in REVISION} for row in rows]
        for row in done:
            row |= {name: row[name] and int(row[name]) for name in ("revision", "undoes")}
    except (KeyError, ValueError) as error:
        raise TableError(f"{PAST} is not as it was exported: {error}", _WITHOUT) from None
    if done:
        first = tx.state()[0] + 1
        done.sort(key=lambda row: row["revision"])
        for row in done:
            row |= {name: row[name] or "" for name in ("at", "author", "action")}  # empty where they were lost
        tx.execute(tx.table("revisions").insert(), [{**row, "batch": n} for n, row in enumerate(done, start=first)])
        undoing.set_activity(tx)


def restore_replaced(tx: Transaction, past: Past, places: Mapping[str, Mapping[str, int]]) -> None:
    """Put what rows were before behind the rows that count now.

    Parameters
    ----------
    places : mapping of table to mapping of row key to place
        Of the rows that counted in the export.
    """
    batches = {revision: batch for batch, revision in ledger.numbers(tx).items()}
    skipped = undos(past)
    for name in TABLES:
        if (before := past.get(BEFORE.format(name))) is not None:
            frame = _replaced_rows(name, before)
            frame = frame[~frame["revision"].isin(skipped)].reset_index(drop=True)
            known = dict(places.get(name, {}))
            fresh = itertools.count(max(known.values(), default=-1) + 1)
            frame["row_key"] = ledger.row_keys(TABLES[name], frame)
            for key in frame["row_key"]:
                if key not in known:
                    known[key] = next(fresh)
            if unknown := sorted(set(frame["revision"]) - set(batches)):
                raise TableError(f"{name} before is of revision {unknown[0]}, which {PAST} lacks", _WITHOUT)
            placed = frame.assign(place=frame["row_key"].map(known))
            ledger.append(tx, name, placed, [batches[r] for r in frame["revision"]])


def _replaced_rows(table: str, before: pd.DataFrame) -> pd.DataFrame:
    import pandas as pd

    problems = Problems()
    missing = [n for n in (*TABLES[table].key, "revision", "gone") if n not in before.columns]
    if missing:
        raise TableError(f"{table} before has no column {missing[0]}", _WITHOUT)
    empty = pd.Series([""] * len(before), index=before.index, dtype=object)
    data = {c.name: read_column(before.get(c.name, empty), c, problems)[0] for c in TABLES[table].columns}
    if problems.found:
        reason = next(iter(problems.found.values()))[0][2]
        raise TableError(f"{table} before: {reason}", _WITHOUT)
    frame = pd.DataFrame({name: pd.Series(cells, dtype=cells.dtype) for name, cells in data.items()})
    frame["revision"] = [int(r) for r in before["revision"]]
    frame["gone"] = [int(g) for g in before["gone"]]
    return frame
