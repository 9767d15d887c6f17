"""Cautions that plugins' rules give, in the words and the kind of the tool's own cautions."""

from __future__ import annotations

from collections.abc import Sequence

from pairing.api import Recipe, RuleLike
from pairing.host.guard import Fault, because, features
from pairing.host.tables import recipe_table_of
from pairing.model.caution import PROFESSIONAL, Caution
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf

__all__ = ["rule_cautions"]


def rule_cautions(
    rules: Sequence[RuleLike], shelf: Shelf, recipes: Sequence[Recipe]
) -> tuple[list[tuple[Caution, ...]], tuple[Fault, ...]]:
    """Ask the rules that give cautions about recipes.

    Parameters
    ----------
    rules : sequence of RuleLike
        Those that act on something else are passed over.
    shelf : Shelf
    recipes : sequence of Recipe
        All of whose bases and flavourings are on the shelf.

    Returns
    -------
    found : list of tuples of Caution
        One tuple per recipe; ``warn`` where the feature is 1, ``note`` where it is between 0 and 1.
    faults : tuple of Fault
        Rules that could not be asked: their caution may be missing.
    """
    asked = [rule for rule in rules if rule.acts_on == "caution"]
    matrix, faults = features(asked, recipe_table_of(shelf, Recipes.of(shelf, recipes)))
    told: list[Fault] = list(faults)
    found: list[tuple[Caution, ...]] = []
    for recipe, row in zip(recipes, matrix, strict=True):
        mine = []
        for rule, value in zip(asked, row, strict=True):
            if value > 0:
                text, fault = because(rule, recipe)
                told += [fault] if fault else []
                mine.append(_caution(rule, text, float(value)))
        found.append(tuple(mine))
    return found, tuple(told)


def _caution(rule: RuleLike, text: str, value: float) -> Caution:
    return Caution(
        text=text,
        kind="rule",
        severity="warn" if value >= 1 else "note",
        source=f"{rule.source} ({rule.id})",
        jurisdiction="any",
        cannot_know=f"more than its facts say; {PROFESSIONAL}",
    )
