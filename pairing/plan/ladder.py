"""The next addition to a cup: a decision under uncertainty, since nothing that went in comes out again."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import CupError, QuantityError
from pairing.model.answers import Advice
from pairing.model.columns import STRENGTH_WORDS
from pairing.model.constants import LABEL_MULTIPLE
from pairing.model.cup import Cup
from pairing.model.fields import listed
from pairing.model.weighing import weighed
from pairing.nutrition.composition import compose
from pairing.nutrition.dilutions import held_by
from pairing.nutrition.energy import base_energy
from pairing.nutrition.maximum import maximum_of, others_shares
from pairing.plan.belief import Belief, Heard
from pairing.plan.dilution import predilute
from pairing.plan.heard import heard
from pairing.plan.lookahead import lookahead, stop_worth
from pairing.plan.portions import Unit, addition_g, dose_after, unit_of
from pairing.quantities.amounts import label_dose

if TYPE_CHECKING:
    from pairing.model.base import Base
    from pairing.model.flavouring import Flavouring
    from pairing.model.shelf import Shelf

__all__ = ["SCALE_G", "next_addition", "next_additions"]

SCALE_G = 0.1
"""Resolution of the scale unless told otherwise, g."""
_EASE = 0.02  # worth given away so that starts differ from cup to cup
_SPREAD_LOG = 0.35  # how far starts may lie from the best one
DILUTIONS = (1, 10, 100, 1000)
"""Parts of a mixture that hold one part of flavouring, tried in this order."""
_COARSE = 0.02  # worth lost to a coarse unit before a pre-dilution is advised
_DILUTE_GAIN = 0.15  # worth gained before base is added to a cup that is too strong
_NEVER_G = 1e-9
_NOTHING_LEFT = 1e-9
_RIGHT, _TOO_STRONG = 3, 4


@dataclass(frozen=True)
class _Scene:
    """All that one decision needs."""

    flavouring_id: str
    flavouring: Flavouring | None
    base: Base | None
    content_g: float
    dose_g_per_kg: float
    heard: tuple[Heard, ...]
    belief: Belief
    cap_g_per_kg: float
    cap_words: str
    shelf: Shelf | None = None


def next_addition(
    model: Any,
    cup: Cup,
    flavouring_id: str,
    *,
    tasters: Iterable[str] | str | None = None,
    scale_g: float = SCALE_G,
    override: bool = False,
) -> Advice:
    """Say what to do next on a ladder: how much more of a flavouring to add, or to stop.

    The needed dose starts at what the model expects for this base and these companions, takes in every strength word
    of this cup, and the addition is the one that is worth most looking ahead: a cup in range counts 1, one over −0.5,
    each sip −0.1. Starts differ a little from cup to cup (by trial id), so that the log learns from both sides.

    Parameters
    ----------
    model : Learned
        Anything with ``dose_posterior``, ``strength_params`` and ``shelf``.
    cup : Cup
    flavouring_id : str
    tasters : iterable of str, or one id, optional
        Whose cup it is; None: whoever judged it so far. Where the log knows none of them, the mean of all.
    scale_g : float
        Resolution of the scale, g.
    override : bool
        Go on past 3 × the label; never past the flavouring's own maximum dose.

    Returns
    -------
    Advice

    Raises
    ------
    CupError
        When readings are out of order, or the cup is empty.
    UnknownIdError
        When base or flavouring is not on the shelf.
    """
    if not (math.isfinite(scale_g) and scale_g > 0):
        raise QuantityError(f"scale_g is {scale_g:g}, a scale's resolution is above 0", "give it in g, such as 0.1")
    scene = _scene(model, _weighed(model, cup), flavouring_id, tasters, override)
    table = lookahead(model.strength_params)
    stop = float(stop_worth(scene.belief, math.log(scene.dose_g_per_kg))) if scene.dose_g_per_kg > 0 else -math.inf
    if scene.dose_g_per_kg >= scene.cap_g_per_kg * (1 - 1e-9):
        return _dilution(scene, stop) or _paused(scene)
    choice = _choose(scene, table, scale_g, jitter=_jitter(cup.trial_id, flavouring_id))
    if choice is None:
        return _dilution(scene, stop) or _paused(scene)
    unit, add_g, worth = choice
    if stop >= worth:
        return _dilution(scene, stop) or _stop(scene)
    return _addition(scene, unit, add_g)


def next_additions(model: Any, cup: Cup, flavouring_ids: Iterable[str], **options: Any) -> list[Advice]:
    """Advise on several flavourings of one cup, the one that has furthest to go first.

    Additions are judged one at a time: after each, sip and ask again, since companions mask each other.
    """
    ids, cup = list(dict.fromkeys(flavouring_ids)), _weighed(model, cup)
    advice = [next_addition(model, cup, one, **options) for one in ids]

    def order(one: Advice) -> tuple[bool, float]:
        dose = cup.dose_g_per_kg.get(one.flavouring_id, 0.0)
        return one.stop, -math.inf if dose <= 0 else math.log(dose / one.target_g_per_kg)

    return sorted(advice, key=order)


def _weighed(model: Any, cup: Cup) -> Cup:
    """Return the cup by the shelf's drop masses, where it has none of its own; refuse what cannot be added to."""
    if not isinstance(cup, Cup):
        raise CupError(f"{cup!r} is no cup", "make one with Cup(base_id, base_g=…)")
    if cup.content_g <= _NEVER_G:
        raise CupError("the cup is empty: 0 g are left", "pour a new cup")
    return weighed(cup, getattr(model, "shelf", None))


def _scene(model: Any, cup: Cup, flavouring_id: str, tasters: Iterable[str] | str | None, override: bool) -> _Scene:
    shelf = getattr(model, "shelf", None)
    flavouring = None if shelf is None else shelf.flavouring(flavouring_id)
    base = None if shelf is None else shelf.base(cup.base_id)
    doses = dict(cup.dose_g_per_kg)
    shares = {flavouring_id: 1.0} | ({} if shelf is None else held_by(doses, flavouring_id, shelf))
    dose = sum(share * doses.pop(f, 0.0) for f, share in shares.items())
    ids = tuple(sorted({flavouring_id, *(f for f, other in doses.items() if other > 0)}))
    means, sds = model.dose_posterior([cup.base_id], [ids], _drinkers(model, cup, tasters))
    at = ids.index(flavouring_id)
    words = tuple(heard(cup, flavouring_id, shares))
    belief = Belief.of(float(means[0][at]), float(sds[0][at]), words, model.strength_params, _cup_sd(model))
    cap, cap_words = _cap(flavouring, base, override, shelf, doses)
    return _Scene(
        flavouring_id,
        flavouring,
        base,
        float(cup.content_g),
        float(dose),
        words,
        belief,
        cap,
        cap_words,
        shelf,
    )


def _drinkers(model: Any, cup: Cup, tasters: Iterable[str] | str | None) -> tuple[str, ...] | None:
    """Whose needed dose counts, of those that the log knows; None is everyone."""
    named = [reading.taster for reading in cup.readings] if tasters is None else listed(tasters, "tasters")
    logged = getattr(getattr(model, "log", None), "tasters", ())
    return tuple(name for name in dict.fromkeys(named) if name in logged) or None


def _cup_sd(model: Any) -> float:
    """How much all readings of one cup are off together, log; learned with the needed doses."""
    learned = getattr(model, "strength", None)
    return math.sqrt(learned.variances.get("cup", 0.0)) if learned is not None else 0.0


def _cap(
    flavouring: Flavouring | None, base: Base | None, override: bool, shelf: Shelf | None, doses: Mapping[str, float]
) -> tuple[float, str]:
    if flavouring is None or shelf is None:
        return math.inf, ""
    most = maximum_of(flavouring, shelf)
    if most is not None:
        taken = others_shares(flavouring.flavouring_id, doses, shelf)
        words = f"its maximum dose, {most:.3g} g/kg"
        if taken:
            words += f", of which {' and '.join(taken)} in this cup took up {100 * sum(taken.values()):.0f} %"
        left = 1.0 - sum(taken.values())
        return most * left if left > _NOTHING_LEFT else 0.0, words
    if override:
        return math.inf, ""

    label = label_dose(flavouring, base)
    if label is None:
        return math.inf, ""
    cap = LABEL_MULTIPLE * label.mid
    return cap, f"3 × the label, {cap:.3g} g/kg (go on only on purpose, and log the cup with that override)"


def _jitter(trial_id: str, flavouring_id: str) -> float:
    digest = hashlib.sha256(f"{trial_id}\n{flavouring_id}".encode()).digest()
    return int.from_bytes(digest[:6], "big") / 2**48


def _choose(scene: _Scene, table: Any, scale_g: float, jitter: float) -> tuple[Unit, float, float] | None:
    """Pick the addition: finest unit needed, g of undiluted flavouring, worth."""
    wanted = _wanted(scene)
    if not len(wanted):
        return None
    free = table.after_sip(scene.belief, np.log(dose_after(scene.content_g, scene.dose_g_per_kg, wanted)))
    for parts in DILUTIONS:
        unit = unit_of(scene.flavouring, scale_g, parts)
        made = unit.additions_g(wanted)
        doses = dose_after(scene.content_g, scene.dose_g_per_kg, made)
        made, doses = made[doses <= scene.cap_g_per_kg * (1 + 1e-9)], doses[doses <= scene.cap_g_per_kg * (1 + 1e-9)]
        if not len(made):
            continue
        worth = table.after_sip(scene.belief, np.log(doses))
        if parts < DILUTIONS[-1] and worth.max() < free.max() - _COARSE and wanted[free.argmax()] < 1.5 * unit.neat_g:
            continue
        if scene.heard:
            at = int(worth.argmax())
        else:
            about = np.abs(np.log(doses / doses[worth.argmax()])) <= _SPREAD_LOG
            near = np.flatnonzero((worth >= worth.max() - _EASE) & about)
            at = int(near[int(jitter * len(near))])
        return unit, float(made[at]), float(worth[at])
    return None


def _wanted(scene: _Scene) -> np.ndarray:
    """Additions worth weighing up, g: from a just noticeable rise to well beyond the needed dose."""
    belief = scene.belief
    low = belief.quantile(0.01) - 0.7
    if scene.dose_g_per_kg > 0:
        low = max(low, math.log(scene.dose_g_per_kg) + 0.05)
    high = min(max(low + 0.3, belief.quantile(0.9)), math.log(scene.cap_g_per_kg), math.log(900.0))
    if high <= low:
        low = math.log(scene.dose_g_per_kg) + 1e-3 if scene.dose_g_per_kg > 0 else high - 1.0
    if high <= low:
        return np.array([])
    targets = np.exp(np.linspace(low, high, 60))
    return np.maximum(addition_g(scene.content_g, scene.dose_g_per_kg, targets), _NEVER_G)


def _advice(scene: _Scene, dose: float, reason: str, **fields: Any) -> Advice:
    log_dose = math.log(max(dose, 1e-12))
    defaults = {"stop": True, "add_g": 0.0, "add_drops": None, "add_base_g": 0.0}
    return Advice(
        flavouring_id=scene.flavouring_id,
        target_g_per_kg=dose,
        p_in_range=float(np.clip(scene.belief.in_range(log_dose), 0.0, 1.0)),
        p_over=float(np.clip(scene.belief.over(log_dose), 0.0, 1.0)),
        reason=reason,
        **defaults | fields,
    )


def _addition(scene: _Scene, unit: Unit, add_g: float) -> Advice:
    dose = float(dose_after(scene.content_g, scene.dose_g_per_kg, add_g))
    reason = f"{_knows(scene)}; this takes it to {dose:.3g} g/kg, then sip"
    if scene.heard and scene.heard[-1].strength == _RIGHT:
        reason += "; one sip proves little and the log leads to expect more: sip again first, stop if it is right again"
    thin = None
    if unit.parts > 1 and scene.flavouring is not None:
        thin = predilute(scene.flavouring, scene.base, unit.parts, scene.shelf)
        into = scene.base.name if scene.base else "water"
        steps = round(math.log10(unit.parts))
        tenfold = f"1 g in {unit.parts - 1} g" + (f", in {steps} steps of 1 in 10," if steps > 1 else "")
        reason += (
            f"; too little to measure out undiluted: stir {tenfold} of {into} (its own entry, {thin.flavouring_id}, "
            f"used fresh) and add {add_g * unit.parts:.2g} g of that"
        )
    drops = round(add_g / unit.g) if unit.drops else None
    return _advice(
        scene,
        dose,
        reason,
        stop=False,
        add_g=add_g,
        add_drops=None if drops is None else float(drops),
        dilute_first=thin,
        add_diluted_g=None if thin is None else add_g * unit.parts,
    )


def _stop(scene: _Scene) -> Advice:
    reason = f"{_knows(scene)}; the cup is at {scene.dose_g_per_kg:.3g} g/kg: stop"
    if scene.heard and scene.heard[-1].strength < _RIGHT:
        reason += "; weaker than the log leads to expect: mix it well, rest, and sip again before adding any more"
    return _advice(scene, scene.dose_g_per_kg, reason)


def _paused(scene: _Scene) -> Advice:
    reason = f"{_knows(scene)}; paused at {scene.cap_words}"
    if scene.dose_g_per_kg <= 0 < scene.cap_g_per_kg:
        most_mg = scene.content_g * scene.cap_g_per_kg  # g × g/kg
        reason += f": {most_mg:.2g} mg in this cup, too little to measure out; pour more base"
    return _advice(scene, scene.dose_g_per_kg or scene.cap_g_per_kg, reason, paused=True)


def _dilution(scene: _Scene, stop: float) -> Advice | None:
    """Add base when the cup is likely too strong, and say what that costs in calories."""
    if scene.dose_g_per_kg <= 0 or not scene.heard or scene.heard[-1].strength < _TOO_STRONG:
        return None
    lower = math.log(scene.dose_g_per_kg) - np.linspace(0.05, 2.5, 50)
    worth = stop_worth(scene.belief, lower)
    at = int(worth.argmax())
    if worth[at] < stop + _DILUTE_GAIN:
        return None
    target = math.exp(lower[at])
    add_base_g = scene.content_g * (scene.dose_g_per_kg / target - 1.0)
    per_100g = _kcal_per_100g(scene)
    cost = "calories unknown" if per_100g is None else f"+{per_100g * add_base_g / 100.0:.0f} kcal in the vessel"
    reason = (
        f"{_knows(scene)}; too strong at {scene.dose_g_per_kg:.3g} g/kg: {add_base_g:.0f} g of base take it to "
        f"{target:.3g} g/kg ({cost}); everything else in the cup gets weaker too"
    )
    return _advice(scene, target, reason, add_base_g=add_base_g)


def _kcal_per_100g(scene: _Scene) -> float | None:
    if scene.base is None or scene.shelf is None:
        return None
    return base_energy(compose(scene.base, scene.shelf), scene.shelf.jurisdiction)


def _knows(scene: _Scene) -> str:
    low, mid, high = (math.exp(scene.belief.quantile(p)) for p in (0.1, 0.5, 0.9))
    need = f"needed dose {mid:.3g} g/kg (80 % {low:.3g}–{high:.3g})"
    if not scene.heard:
        return need
    last = scene.heard[-1]
    return f"'{STRENGTH_WORDS[last.strength]}' at {math.exp(last.log_dose):.3g} g/kg; {need}"
