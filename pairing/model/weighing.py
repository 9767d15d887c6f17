"""A cup made without a shelf, weighed again with what a shelf knows of its drops and densities."""

from __future__ import annotations

import math
from dataclasses import replace

from pairing.errors import QuantityError
from pairing.model.cup import Cup
from pairing.model.shelf import Shelf
from pairing.model.steps import EMPTY, Contents, Step
from pairing.quantities.amounts import Amount, amount_to_g, parse_amount

__all__ = ["weighed"]

_AS_SAID = 1e-5
"""How far the mass of a step may lie from what its words come to: they keep six digits."""


def weighed(cup: Cup, shelf: Shelf) -> Cup:
    """Return a cup made without a shelf as this shelf's drop masses and densities weigh it.

    Doses of its readings follow. A cup that has a shelf of its own, and whatever was added in grams, stays as it is.

    Parameters
    ----------
    cup : Cup
    shelf : Shelf

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> heavy = Shelf.of([], [Flavouring(flavouring_id="plum", name="Plum drops", drop_mg=50)])
    >>> cup = Cup("oat", base_g=99.5).add("plum", drops=10)
    >>> round(cup.dose_g_per_kg["plum"], 2), round(weighed(cup, heavy).dose_g_per_kg["plum"], 2)
    (3.51, 5.0)
    """
    if cup.shelf is not None:
        return cup
    old = new = EMPTY
    steps, doses = [], [(_doses(old), _doses(new))]
    for step in cup.steps:
        now = _again(step, shelf, new.total_g - old.total_g)
        old, new = old.after(step), new.after(now)
        steps.append(now)
        doses.append((_doses(old), _doses(new)))
    readings, at = [], 0
    for reading in cup.readings:
        then = next((n for n in range(at, len(doses)) if doses[n][0] == dict(reading.dose_g_per_kg)), None)
        at = at if then is None else then
        readings.append(reading if then is None else replace(reading, dose_g_per_kg=doses[then][1]))
    return Cup.from_steps(cup.base_id, steps, trial_id=cup.trial_id, readings=readings, shelf=shelf)


def _again(step: Step, shelf: Shelf, heavier_g: float) -> Step:
    """Weigh one step again; ``heavier_g`` is what the cup holds more than was thought before it."""
    if step.kind == "split" and step.parent_trial_id is None:  # what this cup kept: all but the portion
        return replace(step, amount_g=(step.amount_g or 0.0) + heavier_g)
    if step.kind != "add" or step.item_id is None or step.item_id not in shelf.flavourings or step.amount_g is None:
        return step
    facts = shelf.flavouring(step.item_id, step.lot)
    try:
        said = parse_amount(step.as_entered or "")
    except QuantityError:
        return step
    if said.unit == "g" or not math.isclose(amount_to_g(said), step.amount_g, rel_tol=_AS_SAID):
        return step
    one = Amount(1.0, said.unit)
    return replace(step, amount_g=step.amount_g * amount_to_g(one, facts) / amount_to_g(one))


def _doses(contents: Contents) -> dict[str, float]:
    return {name: contents.dose_g_per_kg(name) for name in contents.parts if name is not None}
