"""From a file or DataFrame as people have it to a canonical table, row by row.

``read`` takes cells as they are; ``clean`` brings them into the table's columns, types and ranges and hands back every
row that it refuses, in full, with row, column, value, reason and remedy.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError
from pairing.model.columns import Column, TableSchema, table_named
from pairing.store import rules
from pairing.store.beside import told_beside
from pairing.store.cells import read_column
from pairing.store.headings import STAMPS, SourceColumn, is_limit, match_headings, missing_columns, worth_naming
from pairing.store.id_cells import by_name, with_ids
from pairing.store.liking_scale import (
    TOP,
    as_written,
    check_scale,
    note_scale,
    note_strength,
    on_nine,
    scale_of,
    up_to,
)
from pairing.store.lot_rules import check_lots
from pairing.store.notes import Note
from pairing.store.number_cells import looks_decimal_comma
from pairing.store.problems import REFUSED_COLUMNS, Problems, refused_frame
from pairing.store.raw import absent, is_blank, joined, objects
from pairing.store.recipe_rules import check_recipes
from pairing.store.sources import read
from pairing.store.time_cells import from_day_numbers
from pairing.store.volumes import volumes_apart
from pairing.store.wide import UNFOLD, one_flavouring_a_row
from pairing.store.words import note_meanings, note_unknown_words, refuse_long_words

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Cleaned", "check_rows", "clean", "read"]

_SMALL = 100_000


@dataclass(frozen=True)
class Cleaned:
    """A canonical table and what was left out of it.

    Attributes
    ----------
    table : pandas.DataFrame
        All columns of the table, in order: ids and text as objects with None, numbers as float64 with NaN.
    refused : pandas.DataFrame
        One row per refused row: table, row, column, value, reason, remedy, and the row as given.
    notes : tuple of Note
        What was assumed, converted or not used.
    skipped : pandas.DataFrame
        Rows of the file that repeat an earlier one cell by cell.
    rows : numpy.ndarray
        Row numbers (the source's index) of the rows of ``table``.
    present : tuple of str
        Columns that the source has.
    given : pandas.DataFrame
        The source rows behind ``table``.
    stamps : pandas.DataFrame or None
        Columns ``revision, revised_at, author`` of an export.
    decimal_comma : bool or None
        Whether commas were taken for decimal signs; None: nothing showed it.
    """

    table: pd.DataFrame
    refused: pd.DataFrame
    notes: tuple[Note, ...]
    skipped: pd.DataFrame
    rows: np.ndarray
    present: tuple[str, ...]
    given: pd.DataFrame
    stamps: pd.DataFrame | None = None
    decimal_comma: bool | None = None


def clean(
    table: str,
    df: Any,
    known: Mapping[str, Iterable[str]] | None = None,
    on_bad: str = "collect",
    liking_scale: int = 9,
) -> Cleaned:
    """Bring a table into its canonical form.

    Parameters
    ----------
    table : str
        A name of :data:`pairing.model.columns.TABLES`.
    df : DataFrame or path
        Other column order and case, synonyms and extra columns are fine; optional columns may be absent.
    known : mapping of table to ids, optional
        Ids that may be referred to; tables left out are not checked.
    on_bad : {"collect", "raise"}
        Hand bad rows back, or raise on the first.
    liking_scale : int
        Highest score of the liking scale used (2–10); scores are rescaled linearly from 1…n to 1…9.

    Returns
    -------
    Cleaned

    Raises
    ------
    TableError
        When a required column is missing; with ``on_bad="raise"`` also when a row is bad.

    Examples
    --------
    >>> import pandas as pd
    >>> clean("tasters", pd.DataFrame({"Taster": [" ana ", "ben"]})).table["taster"].tolist()
    ['ana', 'ben']
    """
    spec = table_named(table)
    frame = read(df, table)
    problems = Problems(notes=list(frame.attrs.get("notes", ())))
    ours = _refused_before(frame)
    if table == "readings":
        frame = one_flavouring_a_row(frame, problems)
    frame = told_beside(table, frame, problems)
    found, notes = match_headings(spec, [c for c in frame.columns if c not in ours])
    _refuse_open_limits(table, [c for c in frame.columns if c not in ours], found)
    for note in notes:
        problems.note(note, table)
    used = {source for column in found.values() for source in (column.source, *column.also)}
    problems.unused = tuple(str(c) for c in frame.columns if c not in used and c not in (*ours, *STAMPS))
    if more := worth_naming(spec, found, len(problems.unused)):
        problems.note(more, table)
    _check_required(spec, found, frame)
    frame, found = with_ids(spec, frame, found, problems, known)
    frame = _without_blank_rows(frame, spec, found).drop(columns=ours)
    problems.numbers = frame.index.to_numpy()
    data = _read_cells(spec, frame, found, problems, liking_scale)
    if problems.commas:
        problems.note(f"commas are read as decimal commas in {', '.join(problems.commas)}", table)
    present = tuple(name for name in spec.names if name in found)
    copies = _check_rows(spec, data, present, problems, known, liking_scale)
    records = [*_ragged(table, frame), *problems.records(table)]
    if on_bad == "raise":
        _raise_first(table, records)
    good = problems.good(len(frame)) & ~copies
    if copies.any():
        n_copies = int(copies.sum())
        what = (
            "1 row repeats an earlier one and is" if n_copies == 1 else f"{n_copies} rows repeat earlier ones and are"
        )
        problems.note(f"{what} skipped", table)
    given = frame if good.all() else frame[good]
    return Cleaned(
        table=_canonical(spec, data, good),
        refused=_refused(records, frame, problems),
        notes=tuple(problems.notes),
        skipped=frame[copies],
        rows=given.index.to_numpy(),
        present=present,
        given=given,
        stamps=given[list(STAMPS)] if all(s in frame.columns for s in STAMPS) else None,
        decimal_comma=problems.decimal_comma,
    )


def check_rows(table: str, rows: Sequence[Mapping[str, Any]], known: Mapping[str, Iterable[str]]) -> rules.Data:
    """Check a few rows whose names are the table's own, as `clean` does, and return their columns.

    Raises
    ------
    TableError
        When a row is bad.
    """
    spec = table_named(table)
    problems = Problems(numbers=np.arange(len(rows)))
    data = rules.Data()
    present = []
    for column in spec.columns:
        cells = np.empty(len(rows), dtype=object)
        cells[:] = [row.get(column.name) for row in rows]
        if not column.required and absent(cells).all():
            data[column.name] = _empty(column, len(rows), shared=False)
            continue
        present.append(column.name)
        data[column.name], codes = read_column(cells, column, problems)
        if codes is not None:
            data.known[column.name] = codes
    _check_rows(spec, data, tuple(present), problems, known)
    _raise_first(table, problems.records(table))
    return data


def _check_rows(
    spec: TableSchema,
    data: rules.Data,
    present: tuple[str, ...],
    problems: Problems,
    known: Mapping[str, Iterable[str]] | None,
    liking_scale: int = TOP,
) -> np.ndarray:
    """Refuse rows that contradict themselves, one another or what is known; mask those that repeat earlier ones."""
    table = spec.name
    copies = np.zeros(len(data[spec.key[0]]), dtype=bool)
    by_name(data, rules.REFERS.get(table, {}), known or {}, problems)
    if table == "readings":
        copies = rules.check_readings(data, problems, present)
        if liking_scale == TOP:
            note_scale(data["liking"], problems)
    elif table == "flavourings":
        rules.check_flavourings(data, problems)
    elif table == "recipes":
        check_recipes(data, None if known is None else known.get("flavourings"), problems)
    elif table in ("lots", "weighings"):
        check_lots(table, data, problems)
    elif table == "calibrations":
        rules.check_calibrations(data, problems)
    if table in ("bases", "flavourings"):
        note_unknown_words(data, problems)
    if table == "tasters":
        note_meanings(data, "avoid_allergens", problems)
        note_meanings(data, "avoid", problems)
    refuse_long_words(data, [c.name for c in spec.columns if c.kind == "words"], problems)
    if known is not None:
        if "version_of" in present:
            rules.note_parents(data, spec.key[0], known.get(table, ()), problems)
        rules.check_references(data, rules.REFERS.get(table, {}), known, problems)
    if table == "readings":
        rules.refuse_whole_readings(data, problems)
    _refuse_taken_keys(spec, data, present, problems, copies)
    return copies


def _raise_first(table: str, records: Sequence[Mapping[str, Any]]) -> None:
    """Raise on the first bad row."""
    if records:
        first = next((r for r in records if r["column"]), records[0])  # not a row that goes with a bad one
        more = f" (and {len(records) - 1} more rows)" if len(records) > 1 else ""
        raise TableError(f"{table} row {first['row']}: {first['reason']}{more}", first["remedy"])


def _check_required(spec: TableSchema, found: Mapping[str, SourceColumn], frame: pd.DataFrame) -> None:
    if needed := missing_columns(spec, found):
        have = ", ".join(map(str, list(frame.columns)[:12])) or "nothing"
        hint = f"name the columns as the table's: {', '.join(spec.names[:6])}, …"
        if "flavouring_id" in needed:
            hint = f"{hint}; where a row holds several flavourings, {UNFOLD}"
        raise TableError(f"{spec.name} has no column {' and no column '.join(needed)}; it has: {have}", hint)


def _refuse_open_limits(table: str, headings: Sequence[object], found: Mapping[str, SourceColumn]) -> None:
    """Refuse a column of limits that would not be kept: a maximum that nobody reads stops nothing."""
    read = {heading for column in found.values() for heading in (column.source, *column.also)}
    for heading in headings:
        if table == "flavourings" and heading not in read and is_limit(heading):
            raise TableError(
                f"column {heading!r} of {table} is a limit without a unit that is known",
                "name it with its unit, such as max_dose_g_per_kg, or take the column out",
            )


def _refused_before(frame: pd.DataFrame) -> list[str]:
    """Return the columns that refused rows were handed back with, when all of them are there."""
    return list(REFUSED_COLUMNS) if set(REFUSED_COLUMNS) <= set(map(str, frame.columns)) else []


def _without_blank_rows(frame: pd.DataFrame, spec: TableSchema, found: Mapping[str, SourceColumn]) -> pd.DataFrame:
    """Drop rows without any cell, and headings that are repeated further down."""
    lead = frame[found[spec.key[0]].source]
    empty = (lead.isna() | (lead == "") | (lead == " ")).to_numpy(dtype=bool)
    again = np.zeros_like(empty)
    if frame.attrs.get("from_file"):
        again = (lead == found[spec.key[0]].source).fillna(False).to_numpy(dtype=bool)
    candidates = np.flatnonzero(empty)
    drop = again.copy()
    if len(candidates):
        rest = frame.iloc[candidates]
        blank = np.ones(len(candidates), dtype=bool)
        for i in range(rest.shape[1]):
            blank &= is_blank(objects(rest.iloc[:, i]))
        drop[candidates[blank]] = True
    return frame[~drop] if drop.any() else frame


def _read_cells(
    spec: TableSchema, frame: pd.DataFrame, found: Mapping[str, SourceColumn], problems: Problems, liking_scale: int
) -> rules.Data:
    if spec.name == "readings":
        check_scale(liking_scale)
        frame, found = volumes_apart(frame, found)
    numeric = [c for c in spec.columns if c.kind in ("number", "integer") and c.name in found]
    texts = [frame[found[c.name].source] for c in numeric]
    comma = looks_decimal_comma([objects(t) for t in texts if t.dtype.kind not in "iuf"])
    if comma is None:
        comma = frame.attrs.get("decimal_comma")
    problems.decimal_comma = comma
    data = rules.Data()
    for column in sorted(spec.columns, key=lambda c: c.name != "density_g_per_ml"):  # volumes are weighed by it
        if heading := found.get(column.name):
            cells = joined(frame, heading, column.name, problems)
            if liked := column.name == "liking" and spec.name == "readings":
                liking_scale = scale_of(heading.source, liking_scale, problems)
                cells = as_written(cells, liking_scale, problems)
            if column.name == "strength":
                note_strength(heading.source, problems)
            scaled = liked and liking_scale != TOP
            kept = up_to(column, liking_scale) if scaled else column
            if column.kind == "time" and "epoch" in frame.attrs:
                cells = from_day_numbers(cells, frame.attrs["epoch"], column.name, problems)
            density = data.get("density_g_per_ml")
            data[column.name], codes = read_column(
                cells, kept, problems, comma=comma, heading=heading, density_g_per_ml=density
            )
            if codes is not None:
                data.known[column.name] = codes
            if column.name in _FILLED and not data[column.name].flags.writeable:
                data[column.name] = data[column.name].copy()
            if scaled:
                data["liking"] = on_nine(data["liking"], liking_scale, problems)
        elif column.name in _FILLED:
            data[column.name] = _empty(column, len(frame), shared=False)
        else:
            data[column.name] = _empty(column, len(frame), shared=len(frame) > _SMALL)
    return data


_FILLED = frozenset({"taster", "reading", "dose_g_per_kg", "liking", "likeness"})
"""Columns that rules write to."""


def _empty(column: Column, n: int, *, shared: bool) -> np.ndarray:
    """Make an empty column; a shared one takes no memory and cannot be written to."""
    value: Any = np.nan if column.kind in ("number", "integer") else None
    kind: Any = np.float64 if value is not None else object
    return np.broadcast_to(np.array(value, dtype=kind), (n,)) if shared else np.full(n, value, dtype=kind)


def _refuse_taken_keys(
    spec: TableSchema,
    data: rules.Data,
    present: tuple[str, ...],
    problems: Problems,
    copies: np.ndarray,
) -> None:
    rows = np.flatnonzero(problems.good(len(copies)) & ~copies)
    same, other = rules.find_copies(data, spec.key, present, rows)
    copies[same] = True
    for i, k in other.items():
        column = spec.key[0] if len(spec.key) == 1 else ", ".join(spec.key)
        value = data[spec.key[0]][i]
        problems.refuse(
            [i], column, value,
            f"{column} {value!r} is already in row {problems.numbers[k]} with other content",
            "keep one of the two rows, or give this one its own id or reading number",
        )  # fmt: skip


def _ragged(table: str, frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{"table": table, **record} for record in frame.attrs.get("ragged", ())]


def _canonical(spec: TableSchema, data: rules.Data, good: np.ndarray) -> pd.DataFrame:
    import pandas as pd

    if not good.all():
        for name, values in data.items():
            data[name] = values[good]
    index = pd.RangeIndex(int(good.sum()))
    columns = {n: pd.Series(data[n], index=index, dtype=data[n].dtype, copy=False) for n in spec.names}
    return pd.DataFrame(columns, index=index, copy=False)


def _refused(records: list[dict[str, Any]], frame: pd.DataFrame, problems: Problems) -> pd.DataFrame:
    if not records:
        return refused_frame([])
    bad = frame.iloc[sorted(problems.found)].reset_index(drop=True)
    ragged = len(records) - len(bad)
    return refused_frame(records, bad.reindex(range(-ragged, len(bad))) if ragged else bad)
