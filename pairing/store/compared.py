"""What rows of a load say beside those that are kept: the same, something else, or more."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.fields import is_missing
from pairing.store.problems import Problems
from pairing.store.raw import absent
from pairing.store.rules import key_codes

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "another_version",
    "compare",
    "conflict",
    "of_readings",
    "only_fills",
    "positions",
    "same_base",
    "whole_readings",
    "with_kept_cells",
]

READING = ("trial_id", "taster", "reading")


def positions(kept: pd.DataFrame, keys: list[str]) -> np.ndarray:
    """Return where each key stands among the kept rows, -1 where it is new."""
    import pandas as pd

    return np.array(pd.Index(kept["row_key"]).get_indexer(pd.Index(keys, dtype=object)), dtype=np.int64)


def compare(
    table: pd.DataFrame, kept: pd.DataFrame, at: np.ndarray, there: np.ndarray, columns: list[str]
) -> tuple[np.ndarray, dict[int, str]]:
    """Tell which rows say the same as the kept ones, and the first column in which others differ."""
    same = there.copy()
    rows = np.flatnonzero(there)
    first: dict[int, str] = {}
    for name in columns:
        ours, theirs = table[name].to_numpy()[rows], kept[name].to_numpy()[at[rows]]
        equal = _equal(ours, theirs)
        for i in rows[~equal]:
            first.setdefault(int(i), name)
        same[rows[~equal]] = False
    return same, first


def whole_readings(
    table: pd.DataFrame, kept: pd.DataFrame, at: np.ndarray, there: np.ndarray, same: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, pd.DataFrame]:
    """Compare readings as wholes: one that loses or gains a flavouring is another reading."""
    import pandas as pd

    alive = kept[kept["gone"] == 0]
    both = pd.concat([table[list(READING)], alive[list(READING)]], ignore_index=True)
    codes = key_codes([pd.factorize(both[name])[0].astype(np.int64) + 1 for name in READING])
    ours, theirs = codes[: len(table)], codes[len(table) :]
    n = int(codes.max(initial=-1)) + 1
    mine, kept_rows = np.bincount(ours, minlength=n), np.bincount(theirs, minlength=n)
    equal_rows = np.bincount(ours, weights=same, minlength=n)
    whole = (kept_rows == mine) & (equal_rows == mine)
    exists = kept_rows > 0
    listed = np.isin(alive.index.to_numpy(), at[there])
    removed = alive[(mine > 0)[theirs] & ~listed]
    changed = (exists & ~whole)[ours]
    return ~exists[ours], changed & ~same, same & ~(changed & ~same), removed


def of_readings(table: pd.DataFrame, others: pd.DataFrame) -> np.ndarray:
    """Mask the rows that belong to a reading of other rows."""
    import pandas as pd

    if others.empty or table.empty:
        return np.zeros(len(table), dtype=bool)
    ours, theirs = (pd.MultiIndex.from_frame(rows[list(READING)]) for rows in (table, others))
    return np.asarray(ours.isin(theirs), dtype=bool)


def same_base(table: pd.DataFrame, kept: pd.DataFrame, problems: Problems) -> None:
    """Refuse rows whose trial is kept with another base."""
    alive = kept[kept["gone"] == 0].drop_duplicates("trial_id").set_index("trial_id")["base_id"]
    if alive.empty:
        return
    base = table["trial_id"].map(alive).to_numpy(dtype=object)
    ours = table["base_id"].to_numpy(dtype=object)
    known = np.array([isinstance(b, str) for b in base], dtype=bool)
    for i in np.flatnonzero(known & (base != ours)):
        reason = f"trial {table['trial_id'].iloc[i]!r} is kept with base_id {base[i]!r}, here {ours[i]!r}"
        problems.refuse([i], "base_id", ours[i], reason, "give every cup its own trial_id")


def another_version(table: pd.DataFrame, kept: pd.DataFrame, at: int, i: int, problems: Problems) -> None:
    """Refuse a row that would change what a kept version holds; its status and note may change."""
    for column in ("base_id", "doses"):
        if table[column].iloc[i] != kept[column].iloc[at]:
            version = f"{table['recipe_id'].iloc[i]}@{table['version'].iloc[i]:.0f}"
            reason = f"{version} is kept with {column} {kept[column].iloc[at]!r}: no version is overwritten"
            problems.refuse([i], column, table[column].iloc[i], reason, "give it the next version")


def conflict(
    key: tuple[str, ...], new: pd.Series, kept: pd.Series | None, column: str | None
) -> tuple[str, Any, str, str]:
    """Return column, value, reason and remedy of a row that is kept with other content."""
    named = ", ".join(f"{k} {_said(new[k])}" for k in key if new[k] is not None)
    remedy = (
        'load it again with --on-conflict revise (on_conflict="revise" in Python) to make it a correction, '
        "or leave it out"
    )
    if column is None or kept is None:
        return key[0], new[key[0]], f"{named}: its reading is kept with other rows", remedy
    reason = f"{named} is kept with other content: {column} is {_said(kept[column])}, here {_said(new[column])}"
    return column, new[column], reason, remedy


def _said(cell: Any) -> str:
    return "empty" if is_missing(cell) else f"{cell:g}" if isinstance(cell, float) else repr(cell)


def with_kept_cells(
    table: pd.DataFrame, kept: pd.DataFrame, at: np.ndarray, chosen: np.ndarray, present: tuple[str, ...]
) -> pd.DataFrame:
    """Return the chosen rows; columns that the file does not have keep what is kept."""
    rows = table.copy(deep=False) if chosen.all() else table[chosen].reset_index(drop=True)
    where = at[chosen]
    old = np.flatnonzero(where >= 0)
    place = np.full(len(rows), -1, dtype=np.int64)
    place[old] = kept["place"].to_numpy()[where[old]]
    rows["place"] = place
    old = old[kept["gone"].to_numpy()[where[old]] == 0]
    if len(old):
        for name in table.columns:
            if name not in present:
                cells = rows[name].to_numpy(copy=True)
                cells[old] = kept[name].to_numpy()[where[old]]
                rows[name] = cells
    return rows


def only_fills(
    table: pd.DataFrame,
    kept: pd.DataFrame,
    at: np.ndarray,
    there: np.ndarray,
    columns: Sequence[str],
    past: pd.DataFrame,
) -> tuple[np.ndarray, dict[int, str]]:
    """Mask the rows that say no more than what the kept ones leave empty; of others, name a column that says else.

    A cell that held something before was emptied on purpose (``past``: all rows that ever were): to fill it is not to
    say more.
    """
    fills = there.copy()
    differs: dict[int, str] = {}
    rows = np.flatnonzero(there)
    for name in columns:
        ours, theirs = table[name].to_numpy()[rows], kept[name].to_numpy()[at[rows]]
        unsaid = _empty(theirs)
        if unsaid.any():
            emptied = set(past["row_key"][~_empty(past[name].to_numpy())])
            unsaid &= ~kept["row_key"].isin(emptied).to_numpy()[at[rows]]
        for i in rows[~(_equal(ours, theirs) | unsaid)]:
            differs.setdefault(int(i), name)
    fills[list(differs)] = False
    return fills, differs


def _empty(cells: np.ndarray) -> np.ndarray:
    return np.asarray(np.isnan(cells) if cells.dtype.kind == "f" else absent(cells), dtype=bool)


def _equal(ours: np.ndarray, theirs: np.ndarray) -> np.ndarray:
    return np.asarray((ours == theirs) | (_empty(ours) & _empty(theirs)), dtype=bool)
