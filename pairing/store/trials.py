"""Cups found by the database: whoever asks for one does not read a log of a million."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from pairing.model.columns import TABLES
from pairing.store import frames, ledger

if TYPE_CHECKING:
    import pandas as pd
    from sqlalchemy import ColumnElement
    from sqlalchemy import Table as SqlTable

    from pairing.store.database import Transaction

__all__ = [
    "DoseExtremes",
    "Listed",
    "dose_extremes",
    "last_trial",
    "listed",
    "readings_of",
    "readings_with",
    "rows_of_trial",
    "trial_ids",
]

_LAST = "\U0010ffff"
"""Comes after every other letter."""


def trial_ids(tx: Transaction, beginning: str = "") -> list[str]:
    """Return the ids of the trials whose id begins so, in the order in which they first came."""
    from sqlalchemy import func, select

    readings = tx.table("readings")
    first = func.min(readings.c.place)
    query = select(readings.c.trial_id).where(readings.c.gone == 0, ledger.counting(readings))
    query = query.where(*_begins(tx, readings, beginning)).group_by(readings.c.trial_id).order_by(first)
    return [str(one) for one in tx.execute(query).scalars()]


def _begins(tx: Transaction, readings: SqlTable, beginning: str) -> list[ColumnElement[bool]]:
    """Return what is true of rows whose trial's id begins so."""
    from sqlalchemy import func

    trial: Any = readings.c.trial_id
    if not beginning:
        return []
    found = [func.substr(trial, 1, len(beginning)) == beginning]
    if tx.db.is_file:  # by the index, which is sorted by code points; a server sorts by its own rules
        found += [trial >= beginning, trial < beginning + _LAST]
    return found


def last_trial(tx: Transaction) -> str | None:
    """Return the trial that came last; None where there is none."""
    from sqlalchemy import func, select

    readings = tx.table("readings")
    counts = [readings.c.gone == 0, ledger.counting(readings)]
    rows = select(readings.c.trial_id, readings.c.place).where(*counts).order_by(readings.c.place.desc())
    last, began = None, -1
    with tx.execute(rows.execution_options(yield_per=10)) as latest:
        for trial, place in latest:
            if place <= began:  # all that is left came earlier
                break
            places = select(func.min(readings.c.place)).where(readings.c.trial_id == trial, *counts)
            first = tx.execute(places).scalar_one()
            if first > began:  # an older cup may have got rows since
                last, began = str(trial), first
    return last


class Listed(NamedTuple):
    """How many cups and rows there are, and the ids of the last cups, the latest first."""

    cups: int
    rows: int
    trials: list[str]


def listed(tx: Transaction, most: int, where: Mapping[str, Any]) -> Listed:
    """Count the cups that have certain things in certain columns, and find the last so many of them."""
    from sqlalchemy import func, select

    readings = tx.table("readings").c
    asked = [readings.gone == 0, *(readings[name] == value for name, value in where.items())]
    counts = select(func.count(readings.trial_id.distinct()), func.count())
    cups, rows = tx.execute(counts.where(*asked, ledger.counting(tx.table("readings"), all_rows=True))).one()
    latest = select(readings.trial_id).where(*asked, ledger.counting(tx.table("readings")))
    found: dict[str, None] = {}
    with tx.execute(latest.order_by(readings.place.desc()).execution_options(yield_per=100)) as trials:
        for trial in trials.scalars():
            if trial not in found and len(found) == most:
                break
            found[str(trial)] = None
    return Listed(cups, rows, list(found))


def readings_of(tx: Transaction, trial_ids: Sequence[str]) -> pd.DataFrame:
    """Return the readings of some trials that count, in their order."""
    return ledger.latest(tx, "readings", trials=trial_ids, columns=TABLES["readings"].names, gone=False)


def rows_of_trial(tx: Transaction, trial_id: str) -> dict[str, pd.DataFrame]:
    """Return the readings and the steps of a trial that count, by table."""
    names = ("readings", "steps")
    return {n: ledger.latest(tx, n, trials=[trial_id], columns=TABLES[n].names, gone=False) for n in names}


class DoseExtremes(NamedTuple):
    """Between which doses a flavouring was tasted, g/kg; None where no dose is written.

    ``by_amount`` tells whether some of its rows have an amount instead, whose dose follows from the cup.
    """

    flavouring_id: str
    least: float | None
    most: float | None
    by_amount: bool


def dose_extremes(tx: Transaction) -> list[DoseExtremes]:
    """Return the lowest and the highest dose of every flavouring in the log."""
    from sqlalchemy import func, select

    rows = tx.table("readings")
    dose = func.nullif(rows.c.dose_g_per_kg, 0.0)
    amounts = func.count(rows.c.amount) - func.count(rows.c.dose_g_per_kg + func.length(rows.c.amount))
    query = select(rows.c.flavouring_id, func.min(dose), func.max(dose), amounts)
    counts = [rows.c.gone == 0, rows.c.flavouring_id.is_not(None), ledger.counting(rows, all_rows=True)]
    found = tx.execute(query.where(*counts).group_by(rows.c.flavouring_id))
    return [DoseExtremes(name, least, most, bool(by_amount)) for name, least, most, by_amount in found]


def readings_with(tx: Transaction, flavouring_ids: Sequence[str]) -> pd.DataFrame:
    """Return the readings of every trial that held one of some flavourings, in their order."""
    from sqlalchemy import select

    rows, names = tx.table("readings"), TABLES["readings"].names
    held = select(rows.c.trial_id).where(rows.c.flavouring_id.in_(flavouring_ids))
    query = select(*(rows.c[name] for name in names)).where(rows.c.gone == 0, rows.c.trial_id.in_(held))
    query = query.where(ledger.counting(rows)).order_by(rows.c.place)
    return frames.fetch(tx, TABLES["readings"], query, names)


def rows_with(tx: Transaction, table: str, item_ids: Collection[str], names: Sequence[str]) -> pd.DataFrame:
    """Return some columns of the readings or steps of every trial that held one of some items, in their order."""
    from sqlalchemy import or_, select, union

    rows, readings, steps = tx.table(table), tx.table("readings").c, tx.table("steps").c
    poured = select(readings.trial_id).where(or_(readings.base_id.in_(item_ids), readings.flavouring_id.in_(item_ids)))
    held = union(poured, select(steps.trial_id).where(steps.item_id.in_(item_ids)))
    query = select(*(rows.c[name] for name in names)).where(rows.c.gone == 0, rows.c.trial_id.in_(held))
    return frames.fetch(tx, TABLES[table], query.where(ledger.counting(rows)).order_by(rows.c.place), names)
