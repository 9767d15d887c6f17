"""A cup of which something weighs otherwise than was thought: by what a shelf knows, or because an amount was wrong."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from pairing.errors import CupError, QuantityError
from pairing.model.cup import MAX_CUP_G, MIN_STEP_G, Cup
from pairing.model.shelf import Shelf
from pairing.model.steps import EMPTY, Contents, Step
from pairing.quantities.amounts import Amount, amount_to_g, parse_amount

__all__ = ["added_by", "amended", "weighed"]

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
    return _remade(cup, lambda _, step, heavier_g: _again(step, shelf, heavier_g), shelf)


def amended(cup: Cup, amounts: Mapping[int, str], shelf: Shelf | None = None) -> Cup:
    """Return a cup as it is when some of what went in was of another amount; doses of its readings follow.

    Parameters
    ----------
    cup : Cup
    amounts : mapping
        Place among ``cup.steps`` of a pour or an addition, and what it was: ``12 g``, ``5 drops``, ``4 ml``.
    shelf : Shelf, optional
        What drops and millilitres weigh; the cup's own when not given.

    Raises
    ------
    CupError, QuantityError
        When an amount is none, more was sipped than was there, or a dose of the cup was corrected by hand and so
        does not follow from what went in.

    Examples
    --------
    >>> cup = Cup("oat", base_g=99).add("plum", g=1.0).read({"plum": 2}).sip(15).add("plum", g=1.0).read({"plum": 3})
    >>> [round(r.dose_g_per_kg["plum"], 1) for r in amended(cup, {1: "2 g"}).readings]
    [19.8, 31.1]
    """
    if any(so_far is None for so_far in added_by(cup)):
        raise CupError("a dose of this cup does not follow from what went in", "correct the doses that were tasted")
    shelf = shelf or cup.shelf
    steps = {n: _of_amount(cup.steps[n], text, shelf) for n, text in amounts.items()}
    made = _remade(cup, lambda n, step, heavier_g: steps.get(n) or _kept(step, heavier_g), shelf)
    contents = EMPTY
    for step in made.steps:
        if step.kind == "sip" and (step.amount_g or 0.0) > contents.total_g * (1 + 1e-9):
            raise CupError(f"a sip of {step.amount_g:g} g is more than was in the cup", "correct the amount")
        contents = contents.after(step)
    return made


def added_by(cup: Cup) -> list[Mapping[str, float] | None]:
    """Return g of each flavouring that had gone in by each reading, None where its doses do not follow from the steps.

    Examples
    --------
    >>> cup = Cup("oat", base_g=99).add("plum", g=1.0).read().sip(15).add("plum", g=1.0).read()
    >>> [dict(so_far) for so_far in added_by(cup)]
    [{'plum': 1.0}, {'plum': 2.0}]
    """
    contents, so_far = EMPTY, dict[str, float]()
    doses, added = [_doses(contents)], [so_far]
    for step in cup.steps:
        contents = contents.after(step)
        if step.kind == "add" and step.item_id is not None:
            so_far = {**so_far, step.item_id: so_far.get(step.item_id, 0.0) + (step.amount_g or 0.0)}
        doses.append(_doses(contents))
        added.append(so_far)
    return [None if n is None else added[n] for n in _moments(cup, doses)]


def _remade(cup: Cup, again: Callable[[int, Step, float], Step], shelf: Shelf | None) -> Cup:
    """Make a cup of other steps, one for each; ``again`` is told what the cup holds more than before, g."""
    old = new = EMPTY
    steps, doses, doses_now = [], [_doses(old)], [_doses(new)]
    for n, step in enumerate(cup.steps):
        now = again(n, step, new.total_g - old.total_g)
        old, new = old.after(step), new.after(now)
        steps.append(now)
        doses.append(_doses(old))
        doses_now.append(_doses(new))
    moments = zip(cup.readings, _moments(cup, doses), strict=True)
    readings = [r if n is None else replace(r, dose_g_per_kg=doses_now[n]) for r, n in moments]
    return Cup.from_steps(cup.base_id, steps, trial_id=cup.trial_id, readings=readings, shelf=shelf)


def _moments(cup: Cup, doses: list[dict[str, float]]) -> list[int | None]:
    """Return after how many steps each reading was taken: the first since the one before it with its doses."""
    found, at = list[int | None](), 0
    for reading in cup.readings:
        then = next((n for n in range(at, len(doses)) if doses[n] == dict(reading.dose_g_per_kg)), None)
        at = at if then is None else then
        found.append(then)
    return found


def _of_amount(step: Step, text: str, shelf: Shelf | None) -> Step:
    """Return a pour or an addition of another amount."""
    if step.kind not in ("pour", "add") or step.item_id is None:
        raise CupError(f"a {step.kind} has no amount to correct", "correct what was poured or added")
    said = parse_amount(text)
    adds = step.kind == "add" and shelf is not None and step.item_id in shelf.flavourings
    if not adds and said.unit != "g":
        raise CupError(f"{text!r} is not in grams", "write g")
    g = amount_to_g(said, shelf.flavouring(step.item_id, step.lot) if adds and shelf is not None else None)
    if not MIN_STEP_G <= g <= MAX_CUP_G:
        raise CupError(f"{text!r} is {g:g} g, allowed is {MIN_STEP_G:g} to {MAX_CUP_G:g}", "correct the amount")
    return replace(step, amount_g=g, as_entered=text.strip())


def _kept(step: Step, heavier_g: float) -> Step:
    """Return a step that stays as it was; of a split this cup kept all but the portion."""
    if step.kind == "split" and step.parent_trial_id is None:
        return replace(step, amount_g=(step.amount_g or 0.0) + heavier_g)
    return step


def _again(step: Step, shelf: Shelf, heavier_g: float) -> Step:
    """Weigh one step again; ``heavier_g`` is what the cup holds more than was thought before it."""
    if step.kind != "add" or step.item_id is None or step.item_id not in shelf.flavourings or step.amount_g is None:
        return _kept(step, heavier_g)
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
