"""An export read back: its tables, and the past behind them for a bench that is empty."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError
from pairing.model.columns import TABLES
from pairing.store import ledger, stamps, undoing
from pairing.store.archive import BEFORE, BESIDE, PAST, REVISION, UNFINISHED
from pairing.store.cells import read_column
from pairing.store.problems import Problems
from pairing.store.sheets import sheet_names
from pairing.store.sources import read

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["Past", "is_whole", "past_in", "past_of_stamps", "restore_revisions", "revisions_in", "rows_of", "tables_in"]

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


def _undos(past: Past) -> set[int]:
    """Return the revisions of an export that are undos: what they wrote is what was there before."""
    rows = past[PAST]
    return {int(n) for n, undoes in zip(rows["revision"], rows["undoes"], strict=True) if str(undoes or "").strip()}


def revisions_in(past: Past) -> list[dict[str, Any]]:
    """Return the revisions of an export as they are kept, by number.

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
    done.sort(key=lambda row: row["revision"])
    for row in done:
        row |= {name: row[name] or "" for name in ("at", "author", "action")}  # empty where they were lost
    return done


def past_of_stamps(pending: Mapping[str, pd.DataFrame]) -> Past:
    """Return the revisions that the stamps of single files tell of; empty where rows have none, or contradict."""
    import pandas as pd

    found = stamps.agreed({}, pending)
    if not found:
        return {}
    told = dict.fromkeys(REVISION, "") | {"action": "load", "about": "from an export"}
    rows = [told | {"revision": n, "at": at, "author": author} for n, (at, author) in sorted(found.items())]
    return {PAST: pd.DataFrame(rows, dtype=object)}


def is_whole(past: Past, pending: Mapping[str, pd.DataFrame]) -> bool:
    """Tell whether every row that counts has the stamp of a revision of this past."""
    known = {row["revision"]: (row["at"], row["author"]) for row in revisions_in(past)}
    found = stamps.agreed(known, pending)
    return found is not None and found.keys() <= known.keys()


def restore_revisions(tx: Transaction, past: Past) -> None:
    """Put the revisions of an export into an empty bench."""
    if done := revisions_in(past):
        first = tx.state()[0] + 1
        tx.execute(tx.table("revisions").insert(), [{**row, "batch": n} for n, row in enumerate(done, start=first)])
        undoing.set_activity(tx)


def rows_of(past: Past, pending: Mapping[str, pd.DataFrame]) -> Iterator[tuple[str, pd.DataFrame, list[int]]]:
    """Yield the rows of an export, in their places, with the revision of each: those that count, then those before.

    What an undo wrote is left out: here it writes none.

    Parameters
    ----------
    pending : mapping of table to DataFrame
        The rows that count, with their stamps.
    """
    skipped = sorted(_undos(past))
    known = {int(row["revision"]) for row in revisions_in(past)}
    for name in TABLES:
        places: dict[str, int] = {}
        if (rows := pending.get(name)) is not None and len(rows):
            placed = rows.assign(place=np.arange(len(rows)))
            places = dict(zip(placed["row_key"], placed["place"], strict=True))
            of = stamps.numbers(rows)
            kept = ~np.isin(of, skipped)
            yield name, placed[kept], of[kept].tolist()
        if (before := past.get(BEFORE.format(name))) is not None:
            frame = _replaced_rows(name, before)
            frame = frame[~frame["revision"].isin(skipped)].reset_index(drop=True)
            frame["row_key"] = ledger.row_keys(TABLES[name], frame)
            fresh = itertools.count(len(places))
            for key in frame["row_key"]:
                if key not in places:
                    places[key] = next(fresh)
            if unknown := sorted(set(frame["revision"]) - known):
                raise TableError(f"{name} before is of revision {unknown[0]}, which {PAST} lacks", _WITHOUT)
            yield name, frame.assign(place=frame["row_key"].map(places)), frame["revision"].tolist()


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
