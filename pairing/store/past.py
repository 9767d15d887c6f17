"""What was done to a bench, and corrections of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import ConflictError, StoreError, TableError, UnknownIdError, nearest
from pairing.model.called import called, meant, names_of
from pairing.model.columns import READINGS, TABLES
from pairing.model.fields import is_missing
from pairing.store import ledger
from pairing.store.exchange import clean
from pairing.store.known import known_names
from pairing.store.problems import Problems
from pairing.store.rights import check_others
from pairing.store.rules import REFERS
from pairing.store.stocked import shelf_of
from pairing.store.words import PLACED, refuse_unplaced

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction
    from pairing.store.watched import Watch

__all__ = ["correct", "of_bench", "of_trial"]


def of_bench(tx: Transaction, most: int | None = None) -> pd.DataFrame:
    """Return all revisions, or the last so many, first to last: revision, revised_at, author, action, about, undoes."""
    import pandas as pd

    rows = [(r.revision, r.at, r.author, r.action, r.about, r.undoes) for r in ledger.revisions(tx, most)]
    return pd.DataFrame(rows, columns=["revision", "revised_at", "author", "action", "about", "undoes"])


def of_trial(tx: Transaction, trial_id: str) -> pd.DataFrame:
    """Return every revision of a trial's readings and steps, first to last."""
    import pandas as pd

    done = {r.revision: r for r in ledger.revisions(tx)}
    numbers = ledger.numbers(tx)
    frames = []
    for name in ("readings", "steps"):
        rows = ledger.versions(tx, name, trial_id=trial_id)
        if rows.empty:
            continue
        rows["revision"] = [numbers[b] for b in rows["batch"]]
        rows = _with_undos(rows, done)
        ours = pd.DataFrame(
            {
                "revision": rows["revision"],
                "revised_at": [done[r].at for r in rows["revision"]],
                "author": [done[r].author for r in rows["revision"]],
                "action": [done[r].action for r in rows["revision"]],
                "table": name,
                "state": rows["state"],
            }
        )
        frames.append(pd.concat([ours, rows[list(TABLES[name].names)].astype(object)], axis=1))
    if not frames:
        raise UnknownIdError(f"no trial {trial_id!r}", nearest(trial_id, ledger.used(tx, "readings", "trial_id")))
    columns = list(dict.fromkeys(c for f in frames for c in f.columns))
    joined = pd.concat([f.reindex(columns=columns).astype(object) for f in frames], ignore_index=True)
    joined["revision"] = joined["revision"].astype(int)
    return joined.sort_values("revision", kind="stable", ignore_index=True)


def _with_undos(rows: pd.DataFrame, done: Mapping[int, ledger.Revision]) -> pd.DataFrame:
    """Tell what became of each row of a trial, and put in what every undo changed: an undo itself writes no rows."""
    import pandas as pd

    by_revision: dict[int, list[int]] = {}
    for i, revision in enumerate(rows["revision"].tolist()):
        by_revision.setdefault(revision, []).append(i)
    again = rows.duplicated("row_key").to_numpy()
    same = _as_before(rows)
    off = {one.revision for one in done.values() if one.action == ledger.MERGED}
    out: list[tuple[int, int, str]] = []  # position, revision, state
    for one in sorted(done.values(), key=lambda r: r.revision):
        if one.undoes is None:
            for i in by_revision.get(one.revision, ()):
                if again[i] and same[i]:  # a correction of the cup left it as it was
                    continue
                state = "taken back" if rows["gone"].iloc[i] else "changed" if again[i] else "added"
                out.append((i, one.revision, state))
            continue
        before = _counts(rows, by_revision, off, one.revision)
        _toggle(off, one.undoes, done)
        after = _counts(rows, by_revision, off, one.revision)
        for key in {**before, **after}:
            now, then = after.get(key), before.get(key)
            if now != then:
                out.append(
                    (now, one.revision, "changed") if now is not None else (then or 0, one.revision, "taken back")
                )
    table = rows.iloc[[i for i, _, _ in out]].reset_index(drop=True)
    return table.assign(revision=[r for _, r, _ in out], state=pd.Series([s for _, _, s in out], dtype=object))


def _as_before(rows: pd.DataFrame) -> np.ndarray:
    """Mask the rows that say what the one before with their key said."""
    cells = rows.drop(columns=[c for c in ("revision", "batch", "place") if c in rows.columns]).astype(object)
    cells = cells.where(cells.notna(), None)
    before = cells.groupby("row_key", sort=False).shift(1)
    before = before.where(before.notna(), None)
    others = [c for c in cells.columns if c != "row_key"]
    same = (cells[others] == before[others]) | (cells[others].isna() & before[others].isna())
    return np.asarray(same.all(axis=1), dtype=bool)


def _toggle(off: set[int], revision: int, done: Mapping[int, ledger.Revision]) -> None:
    """Let what a revision wrote count no longer, or again: the end of a chain of undos decides."""
    while (undoes := done[revision].undoes) is not None:
        revision = undoes
    off ^= {revision}


def _counts(rows: pd.DataFrame, by_revision: Mapping[int, list[int]], off: set[int], until: int) -> dict[str, int]:
    """Return the position of the row of each key that counted after a revision."""
    found: dict[str, int] = {}
    for revision in sorted(by_revision):
        if revision <= until and revision not in off:
            found |= {rows["row_key"].iloc[i]: i for i in by_revision[revision]}
    return {key: i for key, i in found.items() if not rows["gone"].iloc[i]}


def correct(
    tx: Transaction,
    table: str,
    key: Any,
    changes: Mapping[str, Any],
    expected_revision: int | None,
    watch: Watch | None = None,
) -> int:
    """Correct the rows with this key as a new revision and return its number; tasters are looked at by ``watch``."""
    key = _by_name(tx, table, _key(table, key))
    _check_columns(table, changes)
    if table == "recipes" and not changes.keys().isdisjoint({"base_id", "doses"}):
        raise TableError(
            "what a version of a recipe held is never changed", "keep it again under its name: that is the next version"
        )
    rows = ledger.latest(tx, table, trials=[key["trial_id"]] if "trial_id" in key else None)
    rows = rows[rows["gone"] == 0].reset_index(drop=True)
    chosen = _with_key(rows, key)
    said = ", ".join(f"{k} {v!r}" for k, v in key.items())
    if not chosen.any():
        lead = TABLES[table].key[0]
        ids = ledger.used(tx, table, lead)
        raise UnknownIdError(f"{table} has no row with {said}", nearest(str(key.get(lead, "")), ids))
    if expected_revision is not None and (last := _last_change(tx, table, rows["row_key"][chosen])) > expected_revision:
        raise ConflictError(
            f"{table} with {said} was changed in revision {last}, you saw revision {expected_revision}",
            "look at its history and correct it again",
        )
    if table == "readings":
        rows, chosen = _whole_trials(rows, chosen)
    changed = rows.copy()
    for name, value in changes.items():
        _set(changed, name, value, _shared(rows, chosen) if name in _OF_READING and table == "readings" else chosen)
    cleaned = clean(table, changed[list(TABLES[table].names)], known=known_names(tx), on_bad="raise").table
    if table == "tasters" and watch is not None:
        for _, one in watch.unplaced(cleaned, shelf_of(tx)):
            raise TableError(f"{one.column} of {said}: {one.reason}", one.remedy)
    if table in ("bases", "flavourings") and not set(PLACED).isdisjoint(changes):
        problems = Problems()
        refuse_unplaced(cleaned, np.flatnonzero(chosen), problems)
        for column, _, reason, remedy in (one for found in problems.found.values() for one in found):
            raise TableError(f"{column} of {said}: {reason}", remedy)
    kept = rows[["row_key", "place"]]
    differ = np.array([not (a == b).all() for a, b in zip(_cells(cleaned), _cells(rows), strict=True)], dtype=bool)
    if not differ.any():
        return ledger.log_revision(tx)
    check_others(tx, rows["batch"][differ])
    begun = ledger.begin_revision(tx, "correct", about=f"{table}: {said}")
    ledger.append(tx, table, cleaned.assign(**kept)[differ], begun.batch)
    return begun.revision


def _last_change(tx: Transaction, table: str, keys: pd.Series) -> int:
    """Return the last revision that wrote one of these rows, or took such a write back."""
    batches = set(ledger.versions(tx, table, row_key=list(keys))["batch"])
    wrote = set(ledger.numbers(tx, batches).values()) if batches else {0}
    done = tx.table("revisions")
    undone = done.select().with_only_columns(done.c.revision, done.c.undoes).where(done.c.undoes.is_not(None))
    for row in tx.execute(undone.order_by(done.c.revision)):
        if row.undoes in wrote:
            wrote.add(row.revision)
    return max(wrote)


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


_NAMED = ("bases", "flavourings", "targets")


def _by_name(tx: Transaction, table: str, key: dict[str, Any]) -> dict[str, Any]:
    """Put ids in the place of names in what names a row."""
    refers = {**REFERS.get(table, {}), **({TABLES[table].key[0]: table} if table in _NAMED else {})}
    if refers.keys().isdisjoint(key):
        return key
    known = known_names(tx)
    for column in refers.keys() & key.keys():
        names = names_of(known.get(name, ()) for name in refers[column].split("+"))
        if isinstance(text := key[column], str) and len(called([text], names)[text]) > 0:
            key[column] = meant(text, names, f"row of {refers[column]}")
    return key


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
