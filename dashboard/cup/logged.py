"""Going on with a cup that is in the log: how it was made and what was said of it, as the first thing in a draft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from pairing.model.cup import Cup
from pairing.model.reading import Reading
from pairing.model.steps import Step

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.shelf import Shelf

__all__ = ["cup_of", "facts_of"]


def facts_of(bench: Bench, trial_id: str) -> dict[str, Any]:
    """Return what a draft has to keep of a logged cup to go on where it ended.

    Raises
    ------
    UnknownIdError, CupError
        When it is not in the log, or only its readings are.
    """
    made = bench.cup(trial_id)
    chosen = bench.trial(trial_id)["readings"]["chosen_by"].dropna()
    added = dict.fromkeys(str(step.item_id) for step in made.steps if step.kind == "add")
    return {
        "base_id": made.base_id,
        "base_g": made.base_g,
        "planned": tuple(added),
        "settles": tuple(added),
        "closed": True,
        "tasters": tuple(dict.fromkeys(reading.taster for reading in made.readings)),
        "chosen_by": str(chosen.iloc[-1]) if len(chosen) else "own",
        "steps": [vars(step) for step in made.steps],
        "readings": [_plain(reading) for reading in made.readings],
    }


def _plain(reading: Reading) -> dict[str, Any]:
    values = {field.name: getattr(reading, field.name) for field in fields(Reading)}
    return {name: dict(value) if isinstance(value, Mapping) else value for name, value in values.items()}


def cup_of(event: Mapping[str, Any], trial_id: str, shelf: Shelf) -> Cup:
    """Make the cup again as it was logged."""
    steps = [Step(**step) for step in event["steps"]]
    readings = [Reading(**reading) for reading in event["readings"]]
    return Cup.from_steps(event["base_id"], steps, trial_id=trial_id, readings=readings, shelf=shelf)
