"""The next addition to a cup: a decision under uncertainty, since nothing that went in comes out again."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from pairing.errors import CupError, QuantityError
from pairing.learning.answers import DoseAnswers
from pairing.model.answers import Advice
from pairing.model.caution import Caution, gravest_first
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.cup import Cup
from pairing.model.portions import SCALE_G, Portions, addition_g, dose_after
from pairing.model.weighing import weighed
from pairing.nutrition.composition import compose
from pairing.nutrition.energy import base_energy
from pairing.nutrition.oils import takes_up
from pairing.plan import telling
from pairing.plan.dilution import predilute
from pairing.plan.lookahead import Lookahead, lookahead, stop_worth
from pairing.plan.scene import Scene, scene_of

__all__ = ["next_addition", "next_additions"]

_EASE = 0.02  # worth given away so that starts differ from cup to cup
_SPREAD_LOG = 0.35  # how far starts may lie from the best one
DILUTIONS = (10, 100, 1000)
"""Parts of a mixture that hold one part of flavouring, tried in this order."""
_COARSE = 0.02  # worth lost to whole drops before they are weighed on a finer scale
_THIN_GAIN = 0.02  # worth gained before base is added to a cup that was called too strong
_MOST_BASE = (
    1.0  # so many times what is in the cup is poured to it at most; beyond that a fresh one is less (our choice)
)
_NOTICED_LOG = 0.15  # the least rise after a weak word: a smaller one is hardly noticed (our choice)
_ANOTHER = 0.02  # a dose that is higher by less is the same one
_NEVER_G = 1e-9


def next_addition(
    model: DoseAnswers,
    cup: Cup,
    flavouring_id: str,
    *,
    tasters: Iterable[str] | str | None = None,
    scale_g: float = SCALE_G,
    override: bool = False,
    already: Mapping[str, Any] | None = None,
) -> Advice:
    """Say what to do next on a ladder: add more of a flavouring, sip again, thin the cup with base, or stop.

    The needed dose starts at what the model expects for this base and these companions, takes in every strength word
    of this cup, and the addition is the one that is worth most looking ahead: a cup in range counts 1, one over −0.5,
    each sip −0.1. Starts differ a little from cup to cup (by trial id), so that the log learns from both sides.

    The last word is never contradicted: a cup that was called weak gets an addition, or, where it should be in range,
    is sipped once again first; one that was called strong gets base or is over; one that was called right is done, or
    is sipped once again first where the log leads to expect more. A limit stops before all of them.

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
        Go on past 3 × the label; never past the flavouring's own maximum dose, nor past what a caution stops.
    already : mapping, optional
        What the tasters swallowed today, see `pairing.cautions`.

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
    scene = scene_of(model, _weighed(model, cup), flavouring_id, tasters, override, already)
    if scene.limit.caution is not None and scene.at_limit:
        return _halted(scene)
    if scene.strong:
        return _thinned(scene) or _over(scene)
    stop = float(stop_worth(scene.belief, math.log(scene.dose_g_per_kg))) if scene.dose_g_per_kg > 0 else -math.inf
    choice = None
    if not scene.at_limit:
        choice = _choose(scene, lookahead(model.strength_params), scale_g, _jitter(cup.trial_id, flavouring_id))
    if choice is None:
        return _halted(scene)
    portions, add_g, worth = choice
    again = not scene.sipped_again and (scene.weak if stop >= worth else scene.right)
    if again:
        return _advice(scene, scene.dose_g_per_kg, telling.again(scene), again=True)
    if scene.right or (stop >= worth and not scene.weak):
        return _advice(scene, scene.dose_g_per_kg, telling.enough(scene), stop=True)
    return _addition(scene, portions, add_g)


def next_additions(model: DoseAnswers, cup: Cup, flavouring_ids: Iterable[str], **options: Any) -> list[Advice]:
    """Advise on several flavourings of one cup, the one that has furthest to go first.

    Additions are judged one at a time: after each, sip and ask again, since companions mask each other.
    """
    ids, cup = list(dict.fromkeys(flavouring_ids)), _weighed(model, cup)
    advice = [next_addition(model, cup, one, **options) for one in ids]

    def order(one: Advice) -> tuple[bool, bool, float]:
        dose = cup.dose_g_per_kg.get(one.flavouring_id, 0.0)
        return one.stop, one.again, -math.inf if dose <= 0 else math.log(dose / one.target_g_per_kg)

    return sorted(advice, key=order)


def _weighed(model: DoseAnswers, cup: Cup) -> Cup:
    """Return the cup by the shelf's drop masses, where it has none of its own; refuse what cannot be added to."""
    if not isinstance(cup, Cup):
        raise CupError(f"{cup!r} is no cup", "make one with Cup(base_id, base_g=…)")
    if cup.content_g <= _NEVER_G:
        raise CupError("the cup is empty: 0 g are left", "pour a new cup")
    return weighed(cup, model.shelf)


def _jitter(trial_id: str, flavouring_id: str) -> float:
    digest = hashlib.sha256(f"{trial_id}\n{flavouring_id}".encode()).digest()
    return int.from_bytes(digest[:6], "big") / 2**48


def _choose(scene: Scene, table: Lookahead, scale_g: float, jitter: float) -> tuple[Portions, float, float] | None:
    """Pick the addition: how it is measured out, g of undiluted flavouring, worth.

    Undiluted wherever a drop or a step of the scale comes into range of what is believed; else the first pre-dilution
    that does. None when nothing that can be measured out is allowed.
    """
    wanted = _wanted(scene)
    if not len(wanted):
        return None
    ways = [(one, grams) for one in _ways(scene, scale_g) if len(grams := _allowed(scene, one, wanted))]
    if not ways:
        return None
    coming = [way for one in ways if (way := _near(scene, *one))]
    portions, grams = _easiest(scene, table, coming) if coming else ways[0]
    doses = _doses(scene, grams)
    worth = table.after_sip(scene.belief, np.log(doses))
    if scene.heard:
        at = int(worth.argmax())
    else:
        about = np.abs(np.log(doses / doses[worth.argmax()])) <= _SPREAD_LOG
        near = np.flatnonzero((worth >= worth.max() - _EASE) & about)
        at = int(near[int(jitter * len(near))])
    return portions, float(grams[at]), float(worth[at])


def _ways(scene: Scene, scale_g: float) -> list[Portions]:
    """How it can be measured out here: as it is, and pre-diluted where the base takes it up."""
    neat = Portions.of(scene.flavouring, scale_g, measures=scene.shelf.measures)
    weighed_neat = [replace(neat, drop_g=None)] if neat.drop_g is not None and scale_g < neat.drop_g else []
    thin = DILUTIONS if takes_up(scene.base, scene.flavouring, scene.shelf) else ()
    return [neat, *weighed_neat, *(Portions.of(scene.flavouring, scale_g, parts, neat.measures) for parts in thin)]


def _easiest(scene: Scene, table: Lookahead, ways: list[tuple[Portions, np.ndarray]]) -> tuple[Portions, np.ndarray]:
    """Return the first way, drops before the scale, unless weighing undiluted is worth more; then pre-dilutions."""
    neat = [way for way in ways if way[0].parts == 1]
    if len(neat) < 2:
        return ways[0]
    worth = [table.after_sip(scene.belief, np.log(_doses(scene, grams))).max() for _, grams in neat]
    return neat[int(worth[1] > worth[0] + _COARSE)]


def _allowed(scene: Scene, portions: Portions, wanted: np.ndarray) -> np.ndarray:
    """Additions that can be measured out and stay below the limit, g of undiluted flavouring."""
    grams = portions.additions_g(wanted)
    doses = _doses(scene, grams)
    return grams[(doses <= scene.limit.g_per_kg * (1 + 1e-9)) & (doses > scene.dose_g_per_kg * (1 + _ANOTHER))]


def _near(scene: Scene, portions: Portions, grams: np.ndarray) -> tuple[Portions, np.ndarray] | None:
    """Return a way of measuring out that comes into range; of a pre-dilution only the amounts that do so at once."""
    near = scene.in_range(_doses(scene, grams))
    if not near.any():
        return None
    return portions, grams if portions.parts == 1 else grams[near]


def _doses(scene: Scene, grams: np.ndarray) -> np.ndarray:
    return dose_after(scene.content_g, scene.dose_g_per_kg, grams)


def _wanted(scene: Scene) -> np.ndarray:
    """Additions worth weighing up, g: from a just noticeable rise to well beyond the needed dose."""
    belief = scene.belief
    low = belief.quantile(0.01) - 0.7
    if scene.dose_g_per_kg > 0:
        low = max(low, math.log(scene.dose_g_per_kg) + (_NOTICED_LOG if scene.weak else 0.05))
    high = min(max(low + 0.3, belief.quantile(0.9)), math.log(scene.limit.g_per_kg or 1e-12), math.log(900.0))
    if high <= low or scene.limit.g_per_kg < scene.needed_g_per_kg * math.exp(-IN_RANGE_LOG):
        low = high  # the limit comes before what is needed: straight to it
    if scene.dose_g_per_kg > 0 and high <= math.log(scene.dose_g_per_kg):
        return np.array([])
    targets = np.exp(np.linspace(low, high, 60 if high > low else 1))
    return np.asarray(np.maximum(addition_g(scene.content_g, scene.dose_g_per_kg, targets), _NEVER_G))


def _advice(scene: Scene, dose: float, reason: str, **fields: Any) -> Advice:
    log_dose = math.log(max(dose, 1e-12))
    defaults = {"stop": False, "add_g": 0.0, "add_drops": None, "add_base_g": 0.0}
    return Advice(
        flavouring_id=scene.flavouring.flavouring_id,
        target_g_per_kg=dose,
        p_in_range=float(np.clip(scene.belief.in_range(log_dose), 0.0, 1.0)),
        p_over=float(np.clip(scene.belief.over(log_dose), 0.0, 1.0)),
        reason=reason,
        needed_g_per_kg=scene.needed_80_g_per_kg,
        cautions=_cautions(scene, dose if fields.get("add_g") else scene.dose_g_per_kg, bool(fields.get("paused"))),
        **defaults | fields,
    )


def _cautions(scene: Scene, dose: float, paused: bool) -> tuple[Caution, ...]:
    """Return the cautions of the cup at a dose; where one of them allows no more, that one too."""
    why = scene.limit.caution if paused else None
    return gravest_first((*(() if why is None else (why,)), *scene.cautions(dose)))


def _addition(scene: Scene, portions: Portions, add_g: float) -> Advice:
    dose = scene.dose_with(add_g)
    thin = None
    if portions.parts > 1:
        thin = predilute(scene.flavouring, scene.base, portions.parts, scene.shelf)
    portion = portions.nearest(add_g * portions.parts)
    return _advice(
        scene,
        dose,
        telling.addition(scene, portions, portion, dose, thin),
        add_g=add_g,
        add_drops=None if portion.drops is None else float(portion.drops),
        portion=portion,
        dilute_first=thin,
        add_diluted_g=None if thin is None else portion.g,
        more_steps=telling.more_steps(scene, dose),
    )


def _halted(scene: Scene) -> Advice:
    """Stop where nothing more may go in: done if it was called right, else paused at the limit."""
    if scene.right and not (scene.at_limit and scene.limit.caution is not None):
        return _advice(scene, scene.dose_g_per_kg, telling.enough(scene), stop=True)
    return _advice(scene, scene.dose_g_per_kg or scene.limit.g_per_kg, telling.limit(scene), stop=True, paused=True)


def _over(scene: Scene, base_g: float | None = None) -> Advice:
    """Leave a cup that was called too strong: base would not help, or not as much as goes in."""
    return _advice(scene, scene.dose_g_per_kg, telling.over(scene, base_g), stop=True, over=True)


def _thinned(scene: Scene) -> Advice | None:
    """Add base to a cup that was called too strong, and say what that costs; None where it gains nothing."""
    lower = math.log(scene.dose_g_per_kg) - np.linspace(0.05, math.log(1.0 + _MOST_BASE), 50)
    worth = stop_worth(scene.belief, lower)
    at = int(worth.argmax())
    if worth[at] < float(stop_worth(scene.belief, math.log(scene.dose_g_per_kg))) + _THIN_GAIN:
        return None
    target = math.exp(lower[at])
    if at == len(lower) - 1 and not scene.in_range(target):
        return _over(scene, scene.content_g * (scene.dose_g_per_kg / scene.needed_g_per_kg - 1.0))
    base_g = scene.content_g * (scene.dose_g_per_kg / target - 1.0)
    per_100g = base_energy(compose(scene.base, scene.shelf), scene.shelf.jurisdiction)
    kcal = None if per_100g is None else per_100g * base_g / 100.0
    return _advice(scene, target, telling.base(scene, base_g, target, kcal), stop=True, add_base_g=base_g)
