"""A cup as rows: its steps without loss, and one row per flavouring per reading."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pairing.errors import ConflictError, CupError
from pairing.model.columns import READINGS, STEPS, TABLES
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.cup import Cup
from pairing.model.fields import written
from pairing.model.shelf import Shelf
from pairing.model.weighing import weighed
from pairing.store import ledger
from pairing.store.calibrations import with_weighed_drops
from pairing.store.exchange import clean

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.reading import Reading
    from pairing.store.database import Transaction

__all__ = ["log_cup"]

OVERRIDE = "past 3 × the label on purpose"
"""How the note of a cup begins to say which flavourings were overridden."""
_JUDGED = ("liking", "likeness", "target_id", "off_notes", "note")


def log_cup(
    tx: Transaction,
    cup: Cup,
    known: Mapping[str, Any],
    said: Mapping[str, Any],
    *,
    on_conflict: str = "refuse",
) -> tuple[str, int | None]:
    """Store a trial; storing the same again changes nothing.

    Parameters
    ----------
    said : mapping
        What was said at the end: ``ended, taster, chosen_by, trial_id`` and judgements that go with the last reading,
        as does which flavourings were ``overridden``.

    Returns
    -------
    trial_id : str
    revision : int or None
        None when it was there already.
    """
    if not isinstance(cup, Cup):
        raise CupError(f"{cup!r} is no cup", "make one with Cup(base_id, base_g=…), add, sip and read")
    trial_id = str(said.get("trial_id") or cup.trial_id)
    digest = hashlib.sha256(json.dumps(_rows(cup, trial_id, said), default=str).encode()).hexdigest()
    write_id = f"log:{trial_id}"
    before = ledger.written(tx, write_id)
    if before is not None and before.digest == digest:
        return trial_id, None
    there = [ledger.latest(tx, name, trials=[trial_id]) for name in ("readings", "steps")]
    there = [rows[(rows["gone"] == 0) & (rows["trial_id"] == trial_id)] for rows in there]
    if any(len(rows) for rows in there) and on_conflict != "revise":
        raise ConflictError(
            f"trial {trial_id!r} is logged already, with other content",
            'log it again with --on-conflict revise (on_conflict="revise" in Python) to make it a correction',
        )
    stamp = ledger.now()
    columns = [there[0][name] for name in ("taster", "reading", "tasted_at")]
    tasted = {(taster, reading): at for taster, reading, at in zip(*columns, strict=True)}
    reading_rows, step_rows = _rows(weighed(cup, _shelf(tx)), trial_id, said)
    for row in reading_rows:
        row["tasted_at"] = row["tasted_at"] or tasted.get((row["taster"], row["reading"])) or stamp
    readings = _checked("readings", reading_rows, known)
    steps = _checked("steps", step_rows, known)
    begun = ledger.begin_revision(tx, "log", about=f"trial {trial_id}", write_id=write_id, digest=digest)
    for name, rows, old in (("readings", readings, there[0]), ("steps", steps, there[1])):
        keys = ledger.row_keys(TABLES[name], rows)
        places = dict(zip(old["row_key"], old["place"], strict=True))
        ledger.append(tx, name, rows.assign(row_key=keys, place=[places.get(k, -1) for k in keys]), begun.batch)
        ledger.append(tx, name, old[~old["row_key"].isin(keys)].assign(gone=1), begun.batch)
    return trial_id, begun.revision


def _shelf(tx: Transaction) -> Shelf:
    flavourings, calibrations = (ledger.current(tx, name) for name in ("flavourings", "calibrations"))
    return Shelf.from_tables(ledger.current(tx, "bases"), with_weighed_drops(flavourings, calibrations))


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
        name: getattr(reading, name, None) for name in READINGS.names if name not in ("strength", "dose_g_per_kg")
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


def _checked(table: str, rows: list[dict[str, Any]], known: Mapping[str, Any]) -> pd.DataFrame:
    import pandas as pd

    filled = [name for name in TABLES[table].names if any(row.get(name) is not None for row in rows)]
    needed = [c.name for c in TABLES[table].columns if c.required or c.name == "flavouring_id"]
    frame = pd.DataFrame(rows, columns=list(dict.fromkeys([*needed, *filled])), dtype=object)
    return clean(table, frame, known=known, on_bad="raise").table
