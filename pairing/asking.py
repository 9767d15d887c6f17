"""What a bench answers from what it learned: recipes held against each other, and an evening planned."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from pairing.errors import BriefError, TableError
from pairing.evening.again import AFTER_MINUTES, Due, kept_due, standing_due
from pairing.evening.agenda import CUPS_PER_EVENING, Evening, Wanted
from pairing.evening.planning import plan_evening
from pairing.evening.sessions import needed_of
from pairing.model.brief import Brief
from pairing.model.kept_recipe import recipes_meant
from pairing.model.recipe import Recipe
from pairing.model.taster import Taster
from pairing.nutrition.serving import serving
from pairing.safety.avoidance import forbidden
from pairing.safety.session import SIP_G
from pairing.stock.dates import to_be_used

if TYPE_CHECKING:
    import pandas as pd

    from pairing.api import Composition
    from pairing.learned.learned import Learned
    from pairing.learned.rotation import Falling
    from pairing.model.answers import Suggestion
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf
    from pairing.safety.swallowed import Tally
    from pairing.stock.reckon import Held
    from pairing.store.plugged import Plugged

__all__ = ["Asking"]

_MOST_AGAIN = 2
"""Kept recipes in one evening, so that there is room for what is new (our choice)."""


class Asking:
    """Part of `pairing.bench.Bench`, which brings its tables and what was learned of them."""

    learn: Callable[[], Learned]
    tables: Callable[[str], pd.DataFrame]
    latest: Callable[[str, int], pd.DataFrame]
    plugged: Plugged
    correct: Callable[..., int]
    shelf: Callable[[], Shelf]
    lots: Callable[[], tuple[Held, ...]]
    cups_since: Callable[[str | None], list[Cup]]
    swallowed: Callable[[str | None], dict[str, Tally]]
    on_hand: Callable[[str], tuple[str, ...]]

    def compare_recipes(self, recipes: Iterable[Recipe | str], tasters: str | None = None) -> pd.DataFrame:
        """Hold recipes against each other by the log as it stands; see `Learned.compare_recipes`.

        A kept name, or ``name@version``, stands for its recipe.
        """
        return self.learn().compare_recipes(recipes_meant(recipes, self.tables("recipes"), self.shelf()), tasters)

    def recipe(self, text: str) -> Recipe:
        """Return the recipe that a kept name, ``name@version`` or ``base|flavouring=dose;…`` means, for any question.

        Raises
        ------
        UnknownIdError
            When it is neither, or what it names is no longer on the shelf.
        """
        (found,) = recipes_meant([text], self.tables("recipes"), self.shelf())
        return found

    def look_up(self, text: str) -> tuple[Composition, ...]:
        """Look a drink or foodstuff up by name in the tables that plugins bring; each entry with its source."""
        found, _ = self.plugged.host.compositions(text.strip())
        return found

    def fill(self, base_id: str, entry: Composition) -> dict[str, float]:
        """Write what a table says into the cells of a base that are empty, and return these; a label's value stays.

        The entry's source is added to the base's.

        Raises
        ------
        UnknownIdError
            When there is no such base.
        TableError
            When no cell of it is empty that the entry could fill.
        """
        base = self.shelf().base(base_id)
        empty = {name: value for name, value in entry.values.items() if getattr(base, name) is None}
        if not empty:
            raise TableError(
                f"{entry.name} fills nothing of {base_id}: its label says all of it",
                "what a label says is not replaced",
            )
        source = "; ".join(dict.fromkeys(filter(None, (base.source, f"{', '.join(sorted(empty))}: {entry.source}"))))
        self.correct("bases", base.base_id, {**empty, "source": source})
        return empty

    def taste_again(self, tasters: Sequence[str] = (), now: datetime | None = None) -> tuple[Due, ...]:
        """Return what is to be tasted again, and why: kept recipes, most reasons first, then cups that stand.

        Evidence is thin or old, another bottle is in use, a base or flavouring has a newer version, or somebody who is
        there never tasted it; a cup is tasted again after 2 and 15 minutes, a day and three, never past its use-by.

        Parameters
        ----------
        tasters : sequence of str
            Who is there.
        now : datetime, optional
            With its zone.
        """
        at, lots = now or datetime.now(UTC), self.lots()
        days = timedelta(minutes=AFTER_MINUTES[-1]) + timedelta(days=1)
        shelf, readings = self.shelf(), self.tables("readings")
        kept = kept_due(self.tables("recipes"), readings, shelf, lots, tasters, now=at)
        return (*kept, *standing_due(self.cups_since((at - days).isoformat()), lots, now=at))

    def falling(self) -> tuple[Falling, ...]:
        """Return the recipes that are liked less and less over the weeks; see `pairing.learned.rotation.falling`."""
        from pairing.learned.rotation import LATEST, falling

        return falling(self.latest("readings", LATEST), self.learn().liking.noise_sd)

    def evening(
        self,
        tasters: Sequence[str] = (),
        brief: Brief | None = None,
        *,
        cups: int = CUPS_PER_EVENING,
        most: Mapping[str, Any] | None = None,
        use_first: Sequence[str] = (),
        only: str | None = None,
        since: str | None = None,
        taste_g: float = SIP_G,
        random_state: int = 0,
    ) -> Evening:
        """Plan an evening; ask again after every cup, and what is left is planned anew.

        Cups come weak before strong by dose ÷ needed dose, what lingers last, about equal ones in a balanced order of
        their own for every taster. No caution stops any of them, and nobody takes more than was said.

        Parameters
        ----------
        tasters : sequence of str
            Who is there; the brief's when none is named.
        brief : Brief, optional
            What the cups may be.
        cups : int
            Flavoured cups, at most 6.
        most : mapping, optional
            What each may take tonight: ``{"kcal": 150, "caffeine": 80, "sips": 10}``, substances in mg, for all of
            them or by taster. What is not known passes every limit.
        use_first : sequence of str
            Flavourings or bases that must be used; those with a lot near its date come after them by themselves.
        only : str, optional
            A saved set: only these bottles tonight.
        since : str, optional
            When the evening, and the day that sums are for, began (ISO 8601, UTC; last midnight).
        taste_g : float
            g of drink that each takes of a cup.
        random_state : int
            As of `Learned.suggest`.

        Raises
        ------
        BriefError
            When nothing may be served, or there are more cups than a palate bears.
        """
        wish = brief or Brief()
        who = tuple(dict.fromkeys(tasters or wish.tasters or ()))
        today, model = self.swallowed(since), self.learn()
        names: dict[str, Any] = {"tasters": who or None, "already": today}
        if only is not None:
            names["on_hand"] = self.on_hand(only)
        wish = replace(wish, **names)
        tonight = self.cups_since(since)
        behind = [(cup.base_id, frozenset(cup.dose_g_per_kg)) for cup in tonight]
        first_cup = next((Recipe(cup.base_id, dict(cup.dose_g_per_kg)) for cup in tonight if cup.dose_g_per_kg), True)
        first = [*use_first, *(i for i in to_be_used(self.lots()) if i not in use_first)]
        again = [due.recipe for due in self.taste_again(who) if due.trial_id is None]
        wanted = [
            *_to_use(model, wish, first, random_state),
            *_again(model, wish, again),
            *_most_worth(model, wish, cups, random_state),
        ]
        days = self.tables("readings")["tasted_at"].dropna().str.slice(0, 10).nunique()
        return plan_evening(
            wanted,
            model.shelf,
            who,
            cups=cups,
            most=most,
            today=today,
            tasted=behind,
            taste_g=taste_g,
            cup_g=wish.serving_g,
            rules=model.rules,
            turn=int(days),
            duplicate=first_cup,
        )


def _to_use(model: Learned, brief: Brief, item_ids: Sequence[str], random_state: int) -> list[Wanted]:
    """Return the best cup with each of what must be used; what the brief leaves out is left out."""
    found: list[Wanted] = []
    for item_id in map(model.shelf.item_id, item_ids):
        if item_id in model.shelf.bases:
            wish: dict[str, Any] = {"bases": (item_id,)}
        else:
            wish = {"must_have": (*(f for f in brief.must_have or () if f != item_id), item_id)}
        with suppress(BriefError):  # an evening without it is an evening still
            found += map(_wanted, model.suggest(replace(brief, **wish), 1, random_state))
    return found


def _again(model: Learned, brief: Brief, recipes: Sequence[Recipe]) -> list[Wanted]:
    """Return at most two kept recipes that are to be tasted again, as far as the brief lets them."""
    found = []
    for recipe in recipes:
        ids = tuple(recipe.doses)
        if ids and _allowed(recipe, brief, model.shelf):
            means, _ = model.dose_posterior([recipe.base_id], [ids], brief.tasters)
            needed = {name: math.exp(mean) for name, mean in zip(ids, means[0].tolist(), strict=True)}
            found.append(Wanted(recipe=recipe, needed_g_per_kg=needed, purpose="again"))
    return found[:_MOST_AGAIN]


def _allowed(recipe: Recipe, brief: Brief, shelf: Shelf) -> bool:
    """Whether a recipe keeps a brief; what is not known breaks every limit that needs it."""
    ids = set(recipe.doses)
    named = recipe.base_id in (brief.bases or (recipe.base_id,)) and ids >= set(brief.must_have or ())
    if not named or ids & set(brief.never or ()) or (brief.on_hand is not None and ids - set(brief.on_hand)):
        return False
    figures = serving(recipe, shelf, brief.serving_g)
    for name, most in brief.limits.items():
        value = getattr(figures, name.removeprefix("max_"))
        if value is None or value > most:
            return False
    return not forbidden(recipe, shelf, Taster(taster="who asks", avoid_allergens=brief.avoid_allergens))


def _most_worth(model: Learned, brief: Brief, cups: int, random_state: int) -> list[Wanted]:
    """Return more than are needed, since sums of the evening may leave some out."""
    return [_wanted(one) for one in model.suggest(brief, 4 * cups, random_state)]


def _wanted(one: Suggestion) -> Wanted:
    return Wanted(recipe=one.recipe, needed_g_per_kg=needed_of(one), purpose=one.purpose, reasons=one.reasons)
