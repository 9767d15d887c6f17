"""What a brief's limits leave out: items with unknown facts, and, when nothing is left, which limit frees how many."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import BriefError
from pairing.model.reason import Reason
from pairing.model.wording import sentence
from pairing.nutrition.composition import compose
from pairing.nutrition.energy import base_energy
from pairing.nutrition.serving import traits
from pairing.plan.candidates import MOST, combinations
from pairing.plan.figures import NUMBERS, ease, enough, number_limits
from pairing.plan.limits import drinkers, item_limits, not_stopped, passes
from pairing.plan.pool import Pool, with_doses
from pairing.plan.wanted import limited, limits_in_words, why_limited
from pairing.safety.stops import barred, no_food_items

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.brief import Brief
    from pairing.model.shelf import Shelf

__all__ = ["left_out", "nothing_left"]

_NAMED = 5
_WORDS = {
    "food_use": "flavourings declared for food use",
    "no food": "what is no poison by what is written about it",
    "max_dose_g_per_kg": "a maximum dose of 0",
    "tasters": "what tasters avoid",
    "stock": "what is in stock",
    "made_from": "bases that are only parts of others",
    "intake": "what may be drunk at once or in a day",
    "dose": "the suppliers' maximum doses",
    "acid": "a pH that does not burn",
    "honey": "no honey for infants",
    "use by": "the use-by of what is in use",
    "rule": "the legal maxima that were entered",
}
_STOPS = ("no food", "intake", "dose", "acid", "honey", "use by", "rule")
"""Cautions that stop: no limit of a brief, so lifting one is never offered; nor is drinking what is no food."""


def left_out(model: Answers, brief: Brief) -> tuple[Reason, ...]:
    """Return, for each fact that a limit needs, the items that are left out because it is not known of them."""
    shelf = model.shelf
    found: dict[str, dict[str, None]] = {}
    for limit in item_limits(model, brief).values():
        found.setdefault("allergens", {}).update(dict.fromkeys(limit.unknown))
    ids = list(shelf.flavourings)
    if brief.limits:
        per_g = traits(shelf, ids)
    for name in brief.limits:
        unknown = [f for f, value in zip(ids, per_g[NUMBERS[name][1]], strict=True) if np.isnan(value)]
        if name == "max_total_kcal":
            unknown += [
                b for b, base in shelf.bases.items() if base_energy(compose(base, shelf), shelf.jurisdiction) is None
            ]
        if name == "max_ethanol_pct_vv":
            unknown += [b for b, base in shelf.bases.items() if compose(base, shelf).ethanol_g_per_100g is None]
        found.setdefault(NUMBERS[name][2], {}).update(dict.fromkeys(unknown))
    if unstated := [i for i, f in shelf.flavourings.items() if f.food_use in (None, "unknown")]:
        found["food use"] = dict.fromkeys(unstated)
    poisons = tuple(np.array([*shelf.bases, *ids], dtype=object)[np.concatenate(no_food_items(shelf))])
    never = (Reason(kind="no food", item_ids=poisons),) if poisons else ()
    reasons = (Reason(kind="unknown", what=what, item_ids=tuple(items)) for what, items in found.items() if items)
    return *never, *reasons, *_avoided(model, brief), *_limited(model, brief)


def _limited(model: Answers, brief: Brief) -> tuple[Reason, ...]:
    """Return, for each limit of a plugin, which flavourings it leaves out."""
    shelf = model.shelf
    if not any(rule.acts_on == "limit" for rule in model.rules):
        return ()
    bases = [shelf.base_places[b] for b in brief.bases] if brief.bases else list(range(len(shelf.bases)))
    singles = combinations(shelf, np.array(bases), np.arange(len(shelf.flavourings)), np.empty(0, dtype=int), 1)
    return tuple(limits_in_words(model, with_doses(singles, model, brief.tasters)))


def _avoided(model: Answers, brief: Brief) -> tuple[Reason, ...]:
    """Return, for each word that somebody who drinks avoids, which items it leaves out."""
    shelf: Shelf = model.shelf
    found: dict[tuple[str, str], dict[str, None]] = {}
    for person in drinkers(shelf, brief):
        if person.taster is None:
            continue
        for why in barred(shelf, person.taster):
            found.setdefault((person.name, why.word), {})[why.item_id] = None
    return tuple(
        Reason(kind="avoided", taster=taster, what=word, item_ids=tuple(items))
        for (taster, word), items in found.items()
    )


def nothing_left(model: Answers, brief: Brief) -> BriefError:
    """Say why no candidate is left and which limits, lifted alone or in twos, would free how many."""
    shelf = model.shelf
    if not shelf.bases or not shelf.flavourings:
        missing = "bases" if not shelf.bases else "flavourings"
        return BriefError(f"the bench has no {missing}: nothing can be suggested", f"load {missing} first")
    if brief.max_total_kcal is not None and (plain := _below_plain(shelf, brief)):
        return BriefError(f"max_total_kcal is {brief.max_total_kcal:g} kcal, {plain}", "raise it or lower serving_g")
    pool = _everything(model, brief)
    masks = {name: passes(limit, pool) for name, limit in item_limits(model, brief).items()}
    masks |= number_limits(pool, brief)
    masks |= {why: mask for why, mask in not_stopped(model, pool, brief).items() if why in _STOPS}
    of_plugins = limited(model, pool)
    masks = {name: mask for name, mask in (masks | of_plugins).items() if not mask.all()}
    freed = _freed(masks)
    avoided = {f"{one.taster} ({one.what})" for one in left_out(model, brief) if one.kind == "avoided"}
    said = [f"{_said(brief, n)}: {', '.join(sorted(avoided))}" if n == "tasters" else _said(brief, n) for n in masks]
    what = f"no recipe of {len(pool)} is left within {', '.join(said)}"
    hint = "; ".join(
        f"without {' and '.join(_said(brief, n) for n in names)}: {count}{_remedy(names, masks, pool, brief)}"
        for names, count in freed
    )
    notes = [sentence(reason, shelf) for reason in left_out(model, brief)]
    if "tasters" in masks:
        notes += _why_bases(shelf, brief)
    for name in [name for name in of_plugins if name in masks]:
        recipe = pool.recipe(int(np.flatnonzero(~masks[name])[0]))
        notes.append(
            f"{name} leaves out {' + '.join(recipe.doses)} in {recipe.base_id}: {why_limited(model, name, recipe)}"
        )
    if not masks.get("food_use", np.ones(1, dtype=bool)).all():
        notes.append("food_use is to be stated after reading the labels: pairing shelf food-use yes")
    liftable = [name for name in masks if name not in (*_STOPS, "food_use")]
    return BriefError(what, "; ".join([hint or "loosen several limits at once", *notes] if liftable else notes))


def _why_bases(shelf: Shelf, brief: Brief) -> list[str]:
    """Say for each drinker why one of the bases must not be: where a label was not read, that is the way out."""
    wanted = brief.bases or tuple(shelf.bases)
    found = [
        next((why for why in barred(shelf, person.taster) if why.item_id in wanted), None)
        for person in drinkers(shelf, brief)
        if person.taster is not None
    ]
    return [f"{shelf.names[why.item_id]} {why.why}" for why in dict.fromkeys(found) if why is not None]


def _everything(model: Answers, brief: Brief) -> Pool:
    """All combinations that no limit has touched, must-haves inside, up to two flavourings beyond them."""
    shelf = model.shelf
    must = np.array([shelf.flavouring_places[f] for f in brief.must_have or ()], dtype=int)
    bases, rest = np.arange(len(shelf.bases)), np.setdiff1d(np.arange(len(shelf.flavourings)), must)
    extra = min(2, brief.max_flavourings - len(must))
    if extra == 2 and len(bases) * len(rest) ** 2 // 2 > MOST:
        extra = 1
    return ease(with_doses(combinations(shelf, bases, rest, must, extra), model, brief.tasters), brief)


def _freed(masks: dict[str, np.ndarray]) -> list[tuple[tuple[str, ...], int]]:
    def passing(lifted: tuple[str, ...]) -> int:
        kept = [mask for name, mask in masks.items() if name not in lifted]
        return int(np.logical_and.reduce(kept).sum()) if kept else len(next(iter(masks.values())))

    names = [name for name in masks if name not in (*_STOPS, "food_use")]
    found: list[tuple[tuple[str, ...], int]] = [((n,), count) for n in names if (count := passing((n,)))]
    if not found:
        twos = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
        found = [(pair, count) for pair in twos if (count := passing(pair))]
    return sorted(found, key=lambda entry: -entry[1])[:_NAMED]


def _remedy(names: tuple[str, ...], masks: dict[str, np.ndarray], pool: Pool, brief: Brief) -> str:
    """Name a value of a lifted limit on numbers that frees some."""
    if len(names) > 1 or names[0] not in (*NUMBERS, "stock"):
        return ""
    others = [mask for name, mask in masks.items() if name != names[0]]
    said = enough(names[0], pool.take(np.logical_and.reduce([np.ones(len(pool), dtype=bool), *others])), brief)
    return f" ({said})" if said else ""


def _said(brief: Brief, name: str) -> str:
    value = getattr(brief, name, None)
    if name in brief.limits:
        return f"{name} {value:g}"
    if name in _WORDS:
        return _WORDS[name]
    return f"{name} {', '.join(sorted(value))}" if value else name


def _below_plain(shelf: Shelf, brief: Brief) -> str | None:
    """Say so when every plain base already breaks the energy limit."""
    assert brief.max_total_kcal is not None
    chosen = [shelf.bases[b] for b in brief.bases] if brief.bases else list(shelf.bases.values())
    plain = []
    for base in chosen:
        per_100g = base_energy(compose(base, shelf), shelf.jurisdiction)
        if per_100g is None:
            return None
        plain.append((per_100g * base.serving(brief.serving_g) / 100.0, base.base_id))
    least, base_id = min(plain)
    if least < brief.max_total_kcal:
        return None
    return f"the leanest plain serving ({base_id}) has {least:.0f} kcal before anything is added"
