"""What is said at the bench: one sentence to each advice, with the number that matters."""

from __future__ import annotations

import math

from pairing.model.columns import STRENGTH_WORDS
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.flavouring import Flavouring
from pairing.model.portions import Portion, Portions
from pairing.plan.scene import Scene
from pairing.quantities.readable import between, readable

__all__ = ["addition", "again", "base", "enough", "limit", "more_steps", "over"]

_STEP_LOG = 0.7
"""By how much one step closes what is left, natural log: about twice the dose (our choice)."""


def addition(scene: Scene, portions: Portions, portion: Portion, dose: float, thin: Flavouring | None) -> str:
    """Why so much of it goes in, and how it is made ready where it is too strong to measure out."""
    steps = more_steps(scene, dose)
    near = "" if steps == 0 else f", and about {steps} more {'step' if steps == 1 else 'steps'} will take it there"
    said = f"{_heard(scene)}this takes it to {dose:.3g} g/kg, {_needed(scene)}{near}: mix, then sip"
    if thin is not None:
        tens = round(math.log10(portions.parts))
        made = f"1 g in {portions.parts - 1} g" + (f", in {tens} steps of 1 in 10," if tens > 1 else "")
        said += (
            f"; nothing that can be measured out undiluted comes near, so stir {made} of {scene.base.name} (its own "
            f"entry, {thin.flavouring_id}, used fresh) and add {portion} of that"
        )
    elif not scene.in_range(dose) and scene.gap_log(dose) < 0:
        more = scene.content_g * (dose / scene.needed_g_per_kg - 1.0)
        said += f"; that is more than is expected to be right here: {more:.0f} g more of the base would make up for it"
    return said


def again(scene: Scene) -> str:
    """Why to sip once more before deciding."""
    word = STRENGTH_WORDS[scene.at_this_dose[-1].strength]
    then = "stop if it is right again" if scene.right else "add more if it is weak again"
    return (
        f"'{word}' at {scene.dose_g_per_kg:.3g} g/kg, {_needed(scene)}: palates tire, so mix, rinse, wait a minute, "
        f"take a sip of plain base and sip again; {then}"
    )


def enough(scene: Scene) -> str:
    """Why nothing more goes in."""
    return f"{_heard(scene)}the cup is at {scene.dose_g_per_kg:.3g} g/kg, {_needed(scene)}: stop here"


def limit(scene: Scene) -> str:
    """Which limit it stops at."""
    if scene.limit.caution is not None:
        return f"{_heard(scene)}no more of it: {scene.limit.words} [{scene.limit.caution.source}]"
    said = f"{_heard(scene)}paused at {scene.limit.words}, {_needed(scene)}"
    if scene.dose_g_per_kg <= 0 < scene.limit.g_per_kg:
        most_mg = scene.content_g * scene.limit.g_per_kg  # g × g/kg
        said += f": {readable(most_mg, 2)} mg in this cup, too little to measure out; pour more base"
    return said


def base(scene: Scene, base_g: float, target: float, kcal: float | None) -> str:
    """Why base goes in, and what it costs."""
    cost = "calories unknown" if kcal is None else f"+{kcal:.0f} kcal in the vessel"
    return (
        f"{_heard(scene)}{base_g:.0f} g of base take it to {target:.3g} g/kg, {_needed(scene)} ({cost}); everything "
        "else in the cup gets weaker too"
    )


def over(scene: Scene, base_g: float | None = None) -> str:
    """Why a cup that was called strong is left at that: base does not help, or so much would have to go in."""
    why = "more base is not expected to bring it nearer"
    if base_g is not None:
        why = f"that would take {base_g:.0f} g more base, more than is in the cup"
    return f"{_heard(scene)}{_needed(scene)}, and {why}: this cup is over, end it as 'too strong'"


def more_steps(scene: Scene, dose: float) -> int:
    """About how many additions are still to come after one that takes the cup to a dose; 0 when it is in range."""
    left = float(scene.gap_log(dose)) - IN_RANGE_LOG
    return max(0, math.ceil(left / _STEP_LOG - 1e-9))


def _heard(scene: Scene) -> str:
    if not scene.heard:
        return ""
    last = scene.heard[-1]
    return f"'{STRENGTH_WORDS[last.strength]}' at {math.exp(last.log_dose):.3g} g/kg; "


def _needed(scene: Scene) -> str:
    mid, low, high = scene.needed_80_g_per_kg
    return f"where {mid:.3g} is expected to be right ({between(low, high)})"
