"""The cautions of a recipe for those who drink it: the one function that every door calls. Never a green light.

Nothing here is legal, medical or dietary advice: local codes and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.caution import Caution, gravest_first
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.factors import check_jurisdiction
from pairing.nutrition.serving import serving
from pairing.safety import handling, mixing, statements
from pairing.safety.intake import against_limits
from pairing.safety.people import people_of
from pairing.safety.questions import questions
from pairing.safety.rules import rule_cautions
from pairing.safety.served import served
from pairing.safety.swallowed import swallowed_mg

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.host.fault import Fault

__all__ = ["cautions"]


def cautions(
    recipe: Recipe,
    shelf: Shelf,
    tasters: Sequence[str | Taster] = (),
    *,
    serving_g: float | None = None,
    jurisdiction: str | None = None,
    rules: Sequence[RuleLike] = (),
    already: Mapping[str, Any] | Any = None,
    on_fault: Callable[[Iterable[Fault]], None] | None = None,
) -> tuple[Caution, ...]:
    """Return every caution known to this tool, gravest first.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses, g/kg.
    shelf : Shelf
    tasters : sequence of str or Taster
        Everyone who drinks; ids that the shelf does not know are said to be unknown. Nobody named is an adult of 70 kg,
        and the words say that this was assumed.
    serving_g : float, optional
        g of base poured; default the base's serving, else 250 g.
    jurisdiction : {"EU", "US"}, optional
        Default the shelf's.
    rules : sequence of RuleLike
        Of plugins; those that act on something else are passed over. A rule that cannot be asked is a caution too.
    already : mapping of taster to `Tally`, or to mg by substance, optional
        What these tasters swallowed today: ``{"ana": {"caffeine": 120, "ethanol": 8000}}``.
    on_fault : callable, optional
        Told what was wrong with rules.

    Returns
    -------
    tuple of Caution
        ``stop`` is never to be served like this. Empty means none known to this tool, not safe.

    Raises
    ------
    QuantityError
        When a dose is open, or serving, jurisdiction or what was swallowed is no such thing.
    UnknownIdError
        When the shelf lacks the base or a flavouring.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> milk = Base(base_id="milk", name="Milk", allergens="milk")
    >>> [c.text for c in cautions(Recipe("milk"), Shelf.of([milk], [])) if c.kind == "allergen"]
    ['contains milk (milk)']
    """
    law = check_jurisdiction(shelf.jurisdiction if jurisdiction is None else jurisdiction)
    found = serving(recipe, shelf, serving_g, law)
    people = people_of(tasters, shelf)
    content = statements.Content.of(recipe, shelf)
    base = content.items[recipe.base_id]
    held = served(shelf, Recipes.of(shelf, recipe), np.array([found.base_g]))
    told, faults = rule_cautions(rules, shelf, [recipe]) if rules else ([()], ())
    if on_fault is not None and faults:
        on_fault(faults)
    return gravest_first(
        (
            *handling.for_people(recipe, shelf, people),
            *mixing.over_maximum(recipe, shelf),
            *mixing.no_food(recipe, shelf),
            *against_limits(held, people, law, swallowed_mg(already, people), content.holding),
            *told[0],
            *mixing.acid(base, held),  # type: ignore[arg-type]
            *handling.feeds(content, people),
            *statements.allergens(content, found, law),
            *questions(content, law),
            *statements.ethanol(found, law),
            *statements.unmeasured(content, people, law),
            *statements.of_labels(content, law),
            *mixing.floating_oil(recipe, base, shelf),  # type: ignore[arg-type]
            *statements.not_stated(content, found),
            *handling.concentrates(shelf.flavouring(i) for i in recipe.flavouring_ids),
            *handling.past_days(recipe, shelf),
            *handling.time(base, content, law),  # type: ignore[arg-type]
            *handling.sharing(people),
        )
    )
