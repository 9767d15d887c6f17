"""Which of the cups that are worth tasting an evening holds, so that nobody takes more than is good for anybody."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeAlias

from pairing.errors import BriefError
from pairing.evening.agenda import CUPS_PER_EVENING, AgendaCup, Between, Evening, LeftOut, Wanted
from pairing.evening.allowance import Taken, allowances
from pairing.evening.order import Impact, impact, orders
from pairing.model.caution import Caution
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import canonical
from pairing.nutrition.serving import serving
from pairing.safety.cautions import cautions
from pairing.safety.people import CUPS_OF_A_CHILD, people_of, tastes_as_child
from pairing.safety.session import SIP_G, session_cautions

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.safety.swallowed import Tally

__all__ = ["SIPS_PER_TASTE", "between", "plan_evening"]

SIPS_PER_TASTE = 2
"""Sips in one taste of `pairing.safety.session.SIP_G` (common practice, no source)."""
_LEAST_CUP_G = 100.0
"""Base in a cup that several share, g: less is hard to dose (our choice)."""
_FEWEST_WITH_ONE_TWICE = 4
_REST_S, _LONG_REST_S = 60, 120
"""Rest between cups, and after one that lingers, s (our choice)."""
_WHEAT = ("gluten", "wheat")


_Served: TypeAlias = "LeftOut | tuple[tuple[Caution, ...], dict[str, Taken]]"


@dataclass(frozen=True)
class _Table:
    """Who sits at the table, of what shelf, and what each may take; `taken` is what they have planned so far."""

    shelf: Shelf
    tasters: tuple[str, ...]
    most: Mapping[str, Mapping[str, float]]
    today: Mapping[str, Tally]
    rules: Sequence[RuleLike]
    taste_g: float

    def served(self, recipe: Recipe, taken: Mapping[str, Taken], portions: Sequence[tuple[Recipe, float]]) -> _Served:
        """Return the cautions of a cup and what everybody will have taken after it; or why it is left out."""
        grams = {name: self.taste_g * float(dose or 0.0) / 1000.0 for name, dose in recipe.doses.items()}
        grams[recipe.base_id] = self.taste_g - math.fsum(grams.values())
        how: dict[str, Any] = {"serving_g": max(1.0, grams[recipe.base_id]), "rules": self.rules}
        who = [name for name in self.tasters if name]
        before = {**self.today, **{name: one.mg for name, one in taken.items()}}
        found = cautions(recipe, self.shelf, who, already=before, **how)
        together = session_cautions([*portions, (recipe, self.taste_g)], self.shelf, who, already=self.today)
        if stop := next((caution for caution in (*found, *together) if caution.severity == "stop"), None):
            return LeftOut(recipe=recipe, caution=stop)
        after = {name: one.and_also(grams, SIPS_PER_TASTE) for name, one in taken.items()}
        for name, one in after.items():
            for counted, (amount, unknown) in one.amounts(self.most[name]).items():
                most = self.most[name][counted]
                if unknown or amount > most * (1 + 1e-9):
                    figures: dict[str, Any] = {"amount": amount, "most": most, "unknown": unknown}
                    return LeftOut(recipe=recipe, taster=name or None, counted=counted, **figures)
        return found, after


def plan_evening(
    wanted: Iterable[Wanted],
    shelf: Shelf,
    tasters: Sequence[str] = (),
    *,
    cups: int = CUPS_PER_EVENING,
    most: Mapping[str, Any] | None = None,
    today: Mapping[str, Tally] | None = None,
    tasted: Sequence[tuple[str, frozenset[str]]] = (),
    taste_g: float = SIP_G,
    cup_g: float | None = None,
    rules: Sequence[RuleLike] = (),
    turn: int = 0,
    duplicate: Recipe | bool = False,
) -> Evening:
    """Plan an evening, or what is left of it, from the cups that are worth tasting, most wanted first.

    A cup is served to all who are there, or to nobody. It is left out where a caution stops it for one of them, what
    they swallowed today and will swallow before it included, or where it would pass what one of them may take tonight;
    what is not known passes every limit that needs it.

    Parameters
    ----------
    wanted : iterable of Wanted
    shelf : Shelf
    tasters : sequence of str
        Nobody named is one adult of whom nothing is known.
    cups : int
        Flavoured cups, 1 to 6: more than a palate bears are not planned.
    most : mapping
        What each may take tonight; see `pairing.evening.allowance.allowances`.
    today : mapping of taster to Tally
        What they swallowed today.
    tasted : sequence of (base_id, flavouring ids)
        Cups of this evening that are behind them, plain ones among them: they are not planned again.
    taste_g, cup_g : float
        g of drink that each takes of a cup, and g of base in it (enough for all, at least 100 g).
    rules : sequence of RuleLike
    turn : int
        Number of the evening, which goes on with the balance of orders.
    duplicate : bool or Recipe
        Whether one cup of four or more is served twice without a word, or the one that was tasted already: how well
        its two likings agree says how sure a tongue is.

    Raises
    ------
    BriefError
        When there are more cups than a palate bears, or a limit is none.
    """
    if isinstance(cups, bool) or not isinstance(cups, int) or not 1 <= cups <= CUPS_PER_EVENING:
        raise BriefError(
            f"{cups!r} cups in an evening, allowed is 1 to {CUPS_PER_EVENING}: a palate bears 4 to 6 (common practice)",
            "taste the others on another evening",
        )
    names = tuple(dict.fromkeys(tasters)) or ("",)
    if any(person.taster and tastes_as_child(person.taster) for person in people_of(names, shelf)):
        cups = min(cups, CUPS_OF_A_CHILD)
    before = dict(today or {})
    table = _Table(shelf, names, allowances(most, names), before, rules, taste_g)
    behind = {(base, frozenset(of)) for base, of in tasted}
    flavoured = [(base, frozenset(of)) for base, of in tasted if of]
    n_tasted = len(flavoured)
    twice = bool(duplicate) and cups >= _FEWEST_WITH_ONE_TWICE and len(set(flavoured)) == n_tasted
    sips = SIPS_PER_TASTE * len(tasted)
    taken = {name: Taken(shelf, before.get(name), sips) for name in names}
    left_out: list[LeftOut] = []
    portions: list[tuple[Recipe, float]] = []
    chosen: list[tuple[Wanted, tuple[Caution, ...]]] = []
    pool = [one for one in wanted if (one.recipe.base_id, frozenset(one.recipe.doses)) not in behind]
    warm_up: tuple[Wanted, tuple[Caution, ...]] | None = None
    if pool and not behind:
        plain = Wanted(recipe=Recipe(pool[0].recipe.base_id, {}), needed_g_per_kg={}, purpose="warm-up")
        warm_up, taken = _take(table, plain, taken, portions, left_out)
    seen: set[tuple[str, frozenset[str]]] = set()
    for one in pool:
        key = (one.recipe.base_id, frozenset(one.recipe.doses))
        if len(chosen) >= cups - n_tasted - twice:
            break
        if key not in seen:
            found, taken = _take(table, one, taken, portions, left_out)
            if found is not None:
                chosen.append(found)
                seen.add(key)
    poured_g = cup_g or max(_LEAST_CUP_G, 10.0 * math.ceil(taste_g * len(names) / 10.0))
    impacts = [impact(one.recipe, one.needed_g_per_kg, shelf) for one, _ in chosen]
    if twice and (again := _again(duplicate, chosen, impacts, len(names), turn)) is not None:
        found, taken = _take(table, again, taken, portions, left_out)
        if found is not None:
            chosen.append(found)
            impacts.append(_late(impact(again.recipe, again.needed_g_per_kg, shelf), impacts))
    by_taster = orders(impacts, len(names), turn)
    first = by_taster[0]
    number_of = {place: number for number, place in enumerate(first, start=1)}
    agenda: list[AgendaCup] = []
    last: Impact | None = None
    for place in first:
        one, found_cautions = chosen[place]
        pause = between(names, shelf, last, first=not (warm_up or behind or agenda))
        agenda.append(_cup(one, number_of[place], poured_g, shelf, pause, found_cautions))
        last = impacts[place]
    return Evening(
        tasters=tuple(name for name in names if name),
        warm_up=None if warm_up is None else _cup(warm_up[0], 0, poured_g, shelf, Between(), warm_up[1]),
        cups=tuple(agenda),
        orders={n: tuple(number_of[i] for i in order) for n, order in zip(names, by_taster, strict=True)},
        tasted=n_tasted,
        most_cups=cups,
        taste_g=taste_g,
        amounts={n: {k: amount for k, (amount, _) in t.amounts(table.most[n]).items()} for n, t in taken.items()},
        most=table.most,
        left_out=tuple(left_out),
    )


def _take(
    table: _Table,
    one: Wanted,
    taken: dict[str, Taken],
    portions: list[tuple[Recipe, float]],
    left_out: list[LeftOut],
) -> tuple[tuple[Wanted, tuple[Caution, ...]] | None, dict[str, Taken]]:
    """Serve a cup to all, or note why not."""
    served = table.served(one.recipe, taken, portions)
    if isinstance(served, LeftOut):
        left_out.append(served)
        return None, taken
    found, after = served
    portions.append((one.recipe, table.taste_g))
    return (one, found), after


def _again(
    duplicate: Recipe | bool,
    chosen: Sequence[tuple[Wanted, tuple[Caution, ...]]],
    impacts: Sequence[Impact],
    n_tasters: int,
    turn: int,
) -> Wanted | None:
    """Return the cup to serve twice: the one that is named, else what comes farthest from itself, weak ones first."""
    if isinstance(duplicate, Recipe):
        doses = {name: float(dose or 0.0) for name, dose in duplicate.doses.items()}
        return Wanted(recipe=duplicate, needed_g_per_kg=doses, purpose="duplicate")
    n = len(chosen)
    if n < _FEWEST_WITH_ONE_TWICE - 1:
        return None

    def apart(i: int) -> int:
        served = orders([*impacts, _late(impacts[i], impacts)], n_tasters, turn)
        return min(abs(order.index(i) - order.index(n)) for order in served)

    return replace(chosen[max(sorted(range(n), key=lambda i: impacts[i].rank), key=apart)][0], purpose="duplicate")


def _late(own: Impact, impacts: Sequence[Impact]) -> Impact:
    """Return the impact by which a cup comes among the last of those that linger alike."""
    return max((it for it in impacts if it.lingers == own.lingers), key=lambda it: it.rank, default=own)


def _cup(
    one: Wanted, number: int, base_g: float, shelf: Shelf, before: Between, found: tuple[Caution, ...]
) -> AgendaCup:
    figures = serving(one.recipe, shelf, base_g)
    felt = impact(one.recipe, one.needed_g_per_kg, shelf)
    return AgendaCup(
        number=number,
        recipe=one.recipe,
        base_g=base_g,
        grams=figures.grams,
        drops=figures.drops,
        strength=felt.strength,
        lingers=felt.lingers,
        purpose=one.purpose,
        before=before,
        reasons=one.reasons,
        cautions=found,
    )


def between(names: Sequence[str], shelf: Shelf, last: Impact | None, *, first: bool) -> Between:
    """Return what comes before a cup: water first; later something to chew, and a rest, longer after what lingers."""
    if first:
        return Between()
    return Between(chew=_chew(names, shelf), rest_s=_LONG_REST_S if last is not None and last.lingers else _REST_S)


def _chew(names: Sequence[str], shelf: Shelf) -> str:
    """Return what is chewed between cups: no wheat where it is avoided, or nobody said that it is not."""
    for name in names or ("",):
        taster = shelf.tasters.get(name)
        avoided = None if taster is None else taster.avoid_allergens
        if avoided is None or any(set(_WHEAT) & canonical(word) for word in avoided):
            return "rice cake"
    return "cracker"
