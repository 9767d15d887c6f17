"""A cup as rows: its steps without loss, and one row per flavouring per reading."""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from pairing.errors import ConflictError, CupError, PairingError
from pairing.model.columns import READINGS, STEPS, TABLES
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.cup import Cup
from pairing.model.fields import written
from pairing.model.weighing import weighed
from pairing.store import frames, ledger
from pairing.store.exchange import check_rows
from pairing.store.in_use import poured_from
from pairing.store.rights import check_others
from pairing.store.state import drop_draft

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.reading import Reading
    from pairing.store.database import Database, Transaction
    from pairing.store.known import Known

__all__ = ["log_cup", "readings_of"]

OVERRIDE = "past 3 × the label on purpose"
"""How the note of a cup begins to say which flavourings were overridden."""
_LATER = ("lot", "glass")
"""Columns of readings that came later: a cup without them has the digest that earlier versions gave it."""
_JUDGED = ("liking", "likeness", "target_id", "off_notes", "note")


class _Facts(NamedTuple):
    """What has to be known to log a cup, asked in one statement.

    Attributes
    ----------
    shelf_changed : int
        Revisions other than logged cups since the shelf was read; of a cup that takes of an item with several lots any,
        since another cup may have named one of them.
    there : int
        Whether anything is, or was, kept of that trial.
    places : tuple of int or None
        Last place in readings and in steps.
    """

    shelf_changed: int
    there: int
    places: tuple[int | None, int | None]


class _Ready(NamedTuple):
    """Rows of a cup, checked, as columns."""

    readings: Mapping[str, Any]
    steps: Mapping[str, Any]


def log_cup(
    db: Database,
    author: str,
    cup: Cup,
    said: Mapping[str, Any],
    known: Known,
    *,
    on_conflict: str = "refuse",
    draft_id: str | None = None,
) -> str:
    """Store a trial and return its id; storing the same again changes nothing.

    Parameters
    ----------
    said : mapping
        What was said at the end: ``ended, taster, chosen_by, trial_id`` and judgements that go with the last reading,
        as does which flavourings were ``overridden``.
    known : Known
        What is remembered of the shelf: rows are made and checked with it before anybody has to wait for them.
    draft_id : str, optional
        A draft that is done with this.
    """
    if not isinstance(cup, Cup):
        raise CupError(f"{cup!r} is no cup", "make one with Cup(base_id, base_g=…), add, sip and read")
    trial_id = str(said.get("trial_id") or cup.trial_id)
    digest = hashlib.sha256(json.dumps(_rows(cup, trial_id, said), default=str).encode()).hexdigest()
    write_id = f"log:{trial_id}"
    at_hand, ready = known.at_hand(db).revision, _try_ready(cup, trial_id, said, known)
    several = any(step.item_id in known.in_use.several for step in cup.steps)

    def write(tx: Transaction) -> str:
        facts = _facts(tx, trial_id, write_id, at_hand, several)
        old: list[Any] = []
        if facts.there:
            before = ledger.written(tx, write_id)
            if before is not None and before.digest == digest:
                return trial_id
            old = _there(tx, trial_id, on_conflict)
        now = ready
        if now is None or facts.shelf_changed or old:
            now = _ready(cup, trial_id, said, known.read(tx), old)
        check_others(tx, (batch for rows in old for batch in rows["batch"]))
        begun = ledger.begin_revision(tx, "log", about=f"trial {trial_id}", write_id=write_id, digest=digest)
        for n, (name, rows) in enumerate(now._asdict().items()):
            _append(tx, name, rows, old[n] if old else None, begun.batch, facts.places[n])
        if draft_id is not None:
            drop_draft(tx, draft_id)
        return trial_id

    return db.write(author, write)


def readings_of(tx: Transaction, trial_id: str) -> pd.DataFrame:
    """Return the readings of a trial."""
    return ledger.latest(tx, "readings", trials=[trial_id], columns=READINGS.names, gone=False)


_FACTS = """
SELECT (SELECT count(*) FROM revisions WHERE revision > :revision AND (action <> 'log' OR :several = 1)),
  EXISTS (SELECT 1 FROM readings WHERE trial_id = :trial) OR EXISTS (SELECT 1 FROM steps WHERE trial_id = :trial)
  OR EXISTS (SELECT 1 FROM revisions WHERE write_id = :write_id),
  (SELECT max(place) FROM readings), (SELECT max(place) FROM steps)
"""


def _facts(tx: Transaction, trial_id: str, write_id: str, revision: int, several: bool) -> _Facts:
    from sqlalchemy import text

    asked = {"revision": revision, "trial": trial_id, "write_id": write_id, "several": int(several)}
    changed, there, *places = tx.execute(text(_FACTS), asked).one()
    return _Facts(changed, there, (places[0], places[1]))


def _there(tx: Transaction, trial_id: str, on_conflict: str) -> list[Any]:
    """Return the rows that count of a trial that is kept already, or refuse to write over them."""
    rows = [ledger.latest(tx, name, trials=[trial_id], gone=False) for name in ("readings", "steps")]
    if any(map(len, rows)) and on_conflict != "revise":
        raise ConflictError(
            f"trial {trial_id!r} is logged already, with other content",
            'log it again with --on-conflict revise (on_conflict="revise" in Python) to make it a correction',
        )
    return rows


def _try_ready(cup: Cup, trial_id: str, said: Mapping[str, Any], known: Known) -> _Ready | None:
    """Make the rows with the shelf as it is remembered; None where that does not do: it may have changed."""
    try:
        return _ready(cup, trial_id, said, known, [])
    except PairingError:
        return None


def _ready(cup: Cup, trial_id: str, said: Mapping[str, Any], known: Known, old: Sequence[Any]) -> _Ready:
    stamp = ledger.now()
    columns = [old[0][name] for name in ("taster", "reading", "tasted_at")] if old else []
    tasted = {(taster, reading): at for taster, reading, at in zip(*columns, strict=True)} if old else {}
    cup = poured_from(cup, known.in_use.lots)
    reading_rows, step_rows = _rows(weighed(cup, known.shelf), trial_id, said)
    lots = _lots(cup)
    for row in reading_rows:
        row["lot"] = lots.get(row["flavouring_id"])
        row["tasted_at"] = row["tasted_at"] or tasted.get((row["taster"], row["reading"])) or stamp
    return _Ready(check_rows("readings", reading_rows, known.ids), check_rows("steps", step_rows, known.ids))


def _lots(cup: Cup) -> dict[str | None, str | None]:
    """Return the lot of each flavouring; None where it came from several, or nobody knows."""
    found: dict[str | None, set[str | None]] = {}
    for step in cup.steps:
        if step.kind == "add":
            found.setdefault(step.item_id, set()).add(step.lot)
    return {item: lots.pop() if len(lots) == 1 else None for item, lots in found.items()}


def _append(
    tx: Transaction, table: str, data: Mapping[str, Any], old: pd.DataFrame | None, batch: int, place: int | None
) -> None:
    """Append the rows of a cup; those that it had before and has no longer are gone."""
    columns = {name: frames.cells(data[name]) for name in TABLES[table].names}
    keys = ledger.row_keys(TABLES[table], data)
    before = {} if old is None else dict(zip(old["row_key"], old["place"], strict=True))
    fresh = itertools.count(0 if place is None else place + 1)
    kept: dict[str, list[Any]] = {
        "row_key": keys,
        "place": [before[key] if key in before else next(fresh) for key in keys],
        "batch": [batch] * len(keys),
        "gone": [0] * len(keys),
    }
    frames.insert_columns(
        tx, tx.table(table), kept | {n: c for n, c in columns.items() if any(x is not None for x in c)}
    )
    if old is not None:
        ledger.append(tx, table, old[~old["row_key"].isin(keys)].assign(gone=1), batch)


def _rows(cup: Cup, trial_id: str, said: Mapping[str, Any]) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    cup = _with_last_word(cup, said)
    taster = said.get("taster")
    rows: list[dict[str, Any]] = []
    counted: dict[str, int] = {}
    for reading in cup.readings:
        counted[reading.taster] = counted.get(reading.taster, 0) + 1
        rows += _reading_rows(cup, reading, trial_id, counted[reading.taster], said)
    if not rows:
        raise CupError(
            f"trial {trial_id} has nothing to log: no reading, and neither liking nor strength is said",
            "read the cup, or say how it was liked; one that nobody tasted can be logged with --ended spoiled "
            "(ended='spoiled' in Python)",
        )
    steps = [
        {
            "trial_id": trial_id,
            "step": n,
            **{name: getattr(step, name, None) for name in STEPS.names if name not in ("trial_id", "step")},
        }
        for n, step in enumerate(cup.steps, start=1)
    ]
    for step in steps:
        if taster and step["taster"] == DEFAULT_TASTER:
            step["taster"] = taster
    return rows, steps


def _with_last_word(cup: Cup, said: Mapping[str, Any]) -> Cup:
    """Join what was said at the end to the taster's last reading, or make it a reading of its own."""
    taster = said.get("taster")
    judged = {name: said[name] for name in _JUDGED if said.get(name) is not None}
    readings = [replace(r, taster=taster) if taster and r.taster == DEFAULT_TASTER else r for r in cup.readings]
    who = taster or (readings[-1].taster if readings else None)
    last = next((n for n in reversed(range(len(readings))) if readings[n].taster == who), None)
    now_in_cup = dict(cup.dose_g_per_kg)
    if last is not None and dict(readings[last].dose_g_per_kg) == now_in_cup:
        for name, value in judged.items():
            there = getattr(readings[last], name)
            if there is not None and there != value:
                raise CupError(f"{name} is {value!r}, the last reading says {there!r}", "say it once")
        readings[last] = replace(readings[last], **judged)
    elif judged or (not readings and said.get("ended")):
        extra = cup.read(taster=who or DEFAULT_TASTER, **judged).readings[-1]
        readings.append(extra)
    if readings and (past := _overridden(cup, said.get("overridden") or ())):
        readings[-1] = replace(readings[-1], note="; ".join(filter(None, [readings[-1].note, past])))
    return cup.from_steps(cup.base_id, cup.steps, trial_id=cup.trial_id, readings=readings)


def _overridden(cup: Cup, flavouring_ids: Sequence[str]) -> str:
    """Return the note of a cup that somebody took past a pause on purpose."""
    ids = list(dict.fromkeys([flavouring_ids] if isinstance(flavouring_ids, str) else flavouring_ids))
    if absent := [name for name in ids if name not in cup.dose_g_per_kg]:
        raise CupError(
            f"{', '.join(absent)} cannot have been overridden: it is not in the cup",
            f"in it are: {', '.join(cup.dose_g_per_kg) or 'no flavourings'}",
        )
    return f"{OVERRIDE}: {', '.join(ids)}" if ids else ""


def _reading_rows(
    cup: Cup, reading: Reading, trial_id: str, number: int, said: Mapping[str, Any]
) -> list[dict[str, Any]]:
    shared: dict[str, Any] = {
        name: getattr(reading, name, None)
        for name in READINGS.names
        if name not in ("strength", "dose_g_per_kg")
        and (name not in _LATER or getattr(reading, name, None) is not None)
    }
    shared |= {"trial_id": trial_id, "base_id": cup.base_id, "base_g": cup.base_g, "reading": number}
    shared |= {"ended": said.get("ended"), "chosen_by": said.get("chosen_by")}
    shared["attributes"] = written(reading.attributes)
    doses: dict[str | None, float] = dict(reading.dose_g_per_kg.items()) or {None: 0.0}
    return [
        {
            **shared,
            "flavouring_id": name,
            "dose_g_per_kg": dose,
            "strength": reading.strength.get(name) if name else None,
        }
        for name, dose in doses.items()
    ]
