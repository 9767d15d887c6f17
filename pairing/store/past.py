"""What was done to a bench, and corrections of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import ConflictError, StoreError, TableError, UnknownIdError, nearest
from pairing.model.columns import READINGS, TABLES
from pairing.model.fields import is_missing
from pairing.store import ledger
from pairing.store.exchange import clean
from pairing.store.loading import known_ids

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["correct", "of_bench", "of_trial"]


def of_bench(tx: Transaction) -> pd.DataFrame:
    """Return all revisions, first to last: revision, revised_at, author, action, about, undoes."""
    import pandas as pd

    rows = [(r.revision, r.at, r.author, r.action, r.about, r.undoes) for r in ledger.revisions(tx)]
    return pd.DataFrame(rows, columns=["revision", "revised_at", "author", "action", "about", "undoes"])


def of_trial(tx: Transaction, trial_id: str) -> pd.DataFrame:
    """Return every revision of a trial's readings and steps, first to last."""
    import pandas as pd

    done = {r.revision: r for r in ledger.revisions(tx)}
    frames = []
    for name in ("readings", "steps"):
        rows = ledger.versions(tx, name, trial_id=trial_id)
        if rows.empty:
            continue
        again = rows.duplicated("row_key").to_numpy()
        state = np.where(rows["gone"] == 1, "taken back", np.where(again, "changed", "added"))
        ours = pd.DataFrame(
            {
                "revision": rows["revision"],
                "revised_at": [done[r].at for r in rows["revision"]],
                "author": [done[r].author for r in rows["revision"]],
                "action": [done[r].action for r in rows["revision"]],
                "table": name,
                "state": state,
            }
        )
        frames.append(pd.concat([ours, rows[list(TABLES[name].names)].astype(object)], axis=1))
    if not frames:
        trials = ledger.current(tx, "readings")["trial_id"].unique()
        raise UnknownIdError(f"no trial {trial_id!r}", nearest(trial_id, trials))
    columns = list(dict.fromkeys(c for f in frames for c in f.columns))
    joined = pd.concat([f.reindex(columns=columns).astype(object) for f in frames], ignore_index=True)
    joined["revision"] = joined["revision"].astype(int)
    return joined.sort_values("revision", kind="stable", ignore_index=True)


def correct(
    tx: Transaction,
    table: str,
    key: Any,
    changes: Mapping[str, Any],
    expected_revision: int | None,
) -> int:
    """Correct the rows with this key as a new revision and return its number."""
    key = _key(table, key)
    _check_columns(table, changes)
    rows = ledger.latest(tx, table, trials=[key["trial_id"]] if "trial_id" in key else None)
    rows = rows[rows["gone"] == 0].reset_index(drop=True)
    chosen = _with_key(rows, key)
    said = ", ".join(f"{k} {v!r}" for k, v in key.items())
    if not chosen.any():
        lead = TABLES[table].key[0]
        ids = ledger.current(tx, table)[lead].unique()
        raise UnknownIdError(f"{table} has no row with {said}", nearest(str(key.get(lead, "")), ids))
    if expected_revision is not None and (last := rows["revision"][chosen].max()) > expected_revision:
        raise ConflictError(
            f"{table} with {said} was changed in revision {last}, you saw revision {expected_revision}",
            "look at its history and correct it again",
        )
    if table == "readings":
        rows, chosen = _whole_trials(rows, chosen)
    changed = rows.copy()
    for name, value in changes.items():
        _set(changed, name, value, _shared(rows, chosen) if name in _OF_READING and table == "readings" else chosen)
    cleaned = clean(table, changed[list(TABLES[table].names)], known=known_ids(tx), on_bad="raise").table
    kept = rows[["row_key", "place"]]
    differ = np.array([not (a == b).all() for a, b in zip(_cells(cleaned), _cells(rows), strict=True)], dtype=bool)
    if not differ.any():
        return ledger.log_revision(tx)
    number = ledger.begin_revision(tx, "correct", about=f"{table}: {said}")
    ledger.append(tx, table, cleaned.assign(**kept)[differ], number)
    return number


_OF_READING = frozenset(READINGS.names[READINGS.names.index("liking") :]) - {"stepped", "minutes_since_addition"} | {
    "tasted_at", "session", "position", "blind", "base_g", "base_ml"
}  # fmt: skip
"""Columns of readings that say the same on all rows of a reading."""


def _key(table: str, key: Any) -> dict[str, Any]:
    names = TABLES[table].key
    if isinstance(key, Mapping):
        if not key or (wrong := sorted(set(key) - set(names))):
            raise UnknownIdError(
                f"{', '.join(wrong) if key else 'nothing'} does not name rows of {table}", f"use {', '.join(names)}"
            )
        return dict(key)
    parts = key if isinstance(key, tuple) else (key,)
    if len(parts) > len(names):
        raise StoreError(f"{len(parts)} values for a key of {len(names)}", f"give {', '.join(names)}")
    return dict(zip(names, parts, strict=False))


def _check_columns(table: str, changes: Mapping[str, Any]) -> None:
    spec = TABLES[table]
    for name in changes:
        if name not in spec.names:
            raise TableError(f"{table} has no column {name!r}", f"it has: {', '.join(spec.names)}")
        if name in spec.key:
            raise TableError(f"{name} is part of what names a row of {table}", "undo it and enter it anew")


def _with_key(rows: pd.DataFrame, key: Mapping[str, Any]) -> np.ndarray:
    chosen = np.ones(len(rows), dtype=bool)
    for name, value in key.items():
        cells = rows[name]
        chosen &= (cells.isna() if value is None else cells == value).to_numpy(dtype=bool)
    return chosen


def _whole_trials(rows: pd.DataFrame, chosen: np.ndarray) -> tuple[pd.DataFrame, np.ndarray]:
    """Return all rows of the trials concerned: a corrected reading has to agree with itself."""
    of_trials = rows["trial_id"].isin(rows["trial_id"][chosen].unique()).to_numpy()
    return rows[of_trials].reset_index(drop=True), chosen[of_trials]


def _shared(rows: pd.DataFrame, chosen: np.ndarray) -> np.ndarray:
    """Return the rows of the readings that the chosen rows belong to."""
    readings = _moments(rows)
    return np.asarray(readings.isin(readings[chosen]), dtype=bool)


def _moments(rows: pd.DataFrame) -> pd.MultiIndex:
    """Return trial, taster and reading of every row."""
    import pandas as pd

    return pd.MultiIndex.from_frame(rows[["trial_id", "taster", "reading"]])


def _set(frame: pd.DataFrame, name: str, value: Any, where: np.ndarray) -> None:
    cells = frame[name].to_numpy(dtype=object, copy=True)
    cells[where] = value
    frame[name] = np.array([None if is_missing(c) else c for c in cells], dtype=object)


def _cells(frame: pd.DataFrame) -> np.ndarray:
    table = frame[[c for c in frame.columns if c not in ledger.KEPT]]
    return table.astype(object).where(table.notna(), None).to_numpy()
