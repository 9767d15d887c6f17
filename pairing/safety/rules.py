"""Cautions that plugins' rules give, in the words and the kind of the tool's own cautions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pairing.api import Recipe, RecipeTable, RuleLike
from pairing.host.fault import Fault
from pairing.host.scoring import because, features
from pairing.host.tables import recipe_table_of
from pairing.model.caution import SEVERITIES, Caution
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf

__all__ = ["rule_cautions", "stopped_by_rules"]


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
        One tuple per recipe, as grave as the rule says; where it does not, ``warn`` where the feature is 1, ``note``
        where it is between 0 and 1. A rule that could not be asked warns of every recipe: nobody watches in its place.
    faults : tuple of Fault
    """
    asked = _asked(rules)
    matrix, faults = features(asked, recipe_table_of(shelf, Recipes.of(shelf, recipes)))
    told: list[Fault] = list(faults)
    silent = {fault.subject for fault in faults if not fault.note}
    found: list[tuple[Caution, ...]] = []
    for recipe, row in zip(recipes, matrix, strict=True):
        mine = []
        for rule, value in zip(asked, row, strict=True):
            if rule.id in silent:
                mine.append(_unwatched(rule))
            elif value > 0:
                text, fault = because(rule, recipe, shelf)
                told += [fault] if fault else []
                mine.append(_caution(rule, recipe, text, float(value)))
        found.append(tuple(mine))
    return found, tuple(told)


def stopped_by_rules(rules: Sequence[RuleLike], table: RecipeTable) -> NDArray[np.bool_]:
    """Return which recipes of a table a rule stops."""
    asked = [rule for rule in _asked(rules) if severity_of(rule) == "stop"]
    matrix, _ = features(asked, table)
    return np.asarray((matrix > 0).any(axis=1), dtype=bool)


def severity_of(rule: RuleLike) -> str | None:
    """Return how grave a rule's caution is, None where its feature says so."""
    given = getattr(rule, "severity", None)
    return given if given in SEVERITIES else None


def _asked(rules: Sequence[RuleLike]) -> list[RuleLike]:
    return [rule for rule in rules if rule.acts_on == "caution"]


def _caution(rule: RuleLike, recipe: Recipe, text: str, value: float) -> Caution:
    return Caution(
        kind="rule",
        severity=severity_of(rule) or ("warn" if value >= 1 else "note"),
        words=text,
        items=recipe.flavouring_ids,
        source=f"{rule.source} ({rule.id})",
        cannot_know="more than its facts say",
    )


def _unwatched(rule: RuleLike) -> Caution:
    return Caution(
        kind="rule",
        severity="warn",
        words=f"nobody watches for this: {rule.summary} (the rule {rule.id} has a fault)",
        source=f"{rule.source} ({rule.id})",
        cannot_know="whether it applies: mend or remove the plugin",
    )
