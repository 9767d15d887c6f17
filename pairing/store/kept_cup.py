"""A cup as it was logged, to go on with: its steps and readings again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pairing.errors import CupError, UnknownIdError, nearest
from pairing.model.cup import Cup
from pairing.model.fields import is_missing
from pairing.model.reading import Reading
from pairing.model.shelf import Shelf
from pairing.model.steps import Step
from pairing.store import ledger
from pairing.store.stocked import shelf_of

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["cup_of", "cups_since"]

_STEP = ("kind", "item_id", "amount_g", "as_entered", "at", "lot", "taster", "parent_trial_id")
_SAID = (
    *("taster", "liking", "likeness", "target_id", "off_notes", "attributes", "reminds_of", "tasted_at", "session"),
    *("position", "blind", "temperature_c", "minutes_since_addition", "mixing", "stepped", "note", "glass"),
)


def cup_of(tx: Transaction, trial_id: str, shelf: Shelf) -> Cup:
    """Make a cup again from what is kept of it.

    Raises
    ------
    UnknownIdError
        When no trial has that id.
    CupError
        When its steps are not kept: it came with a table of readings.
    """
    kept = [ledger.latest(tx, name, trials=[trial_id]) for name in ("steps", "readings")]
    steps, readings = (rows[(rows["gone"] == 0) & (rows["trial_id"] == trial_id)] for rows in kept)
    if readings.empty:
        raise UnknownIdError(f"no trial {trial_id!r}", nearest(trial_id, ledger.used(tx, "readings", "trial_id")))
    if steps.empty:
        raise CupError(
            f"how trial {trial_id} was made is not kept, only what was tasted", "pour it once more: pairing log --again"
        )
    rows = [{k: _plain(v) for k, v in row.items()} for row in steps.sort_values("step").to_dict("records")]
    made = [Step(**{name: row[name] for name in _STEP if name in row}) for row in rows]
    moments = readings.groupby(["taster", "reading"], sort=False)
    said = [_reading(rows) for _, rows in moments]
    return Cup.from_steps(str(readings["base_id"].iloc[0]), made, trial_id=trial_id, readings=said, shelf=shelf)


def cups_since(tx: Transaction, since: str) -> list[Cup]:
    """Make every cup again that was logged since a time; what came as a table of readings only is left out.

    Parameters
    ----------
    since : str
        ISO 8601, UTC.
    """
    done, steps = tx.table("revisions"), tx.table("steps")
    logged = done.select().with_only_columns(done.c.batch)
    logged = logged.where(done.c.at >= since, done.c.action == "log", done.c.active == 1)
    batches = [row.batch for row in tx.execute(logged)]
    if not batches:
        return []
    shelf = shelf_of(tx)
    named = steps.select().with_only_columns(steps.c.trial_id).where(steps.c.batch >= min(batches)).distinct()
    cups = []
    for trial_id in sorted(row.trial_id for row in tx.execute(named)):
        try:
            cups.append(cup_of(tx, trial_id, shelf))
        except (CupError, UnknownIdError):  # taken back, or nothing but its readings is kept
            continue
    return cups


def _reading(rows: pd.DataFrame) -> Reading:
    records = [{k: _plain(v) for k, v in row.items()} for row in rows.to_dict("records")]
    inside = [row for row in records if row["flavouring_id"] is not None]
    return Reading(
        dose_g_per_kg={row["flavouring_id"]: row["dose_g_per_kg"] for row in inside},
        strength={row["flavouring_id"]: int(row["strength"]) for row in inside if row["strength"] is not None},
        **{name: records[0][name] for name in _SAID if records[0].get(name) is not None},
    )


def _plain(value: Any) -> Any:
    return None if is_missing(value) else value
