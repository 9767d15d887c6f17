"""What scoring rules have to keep to, as tests; override ``shelf`` or ``recipes`` where the sample is no use."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any, ClassVar

import numpy as np
import pytest

from pairing.api import AdditionTable, Recipe, RecipeTable
from pairing.host import Host, scoring
from pairing.host.rules import HostedRule
from pairing.host.tables import addition_table_of, recipe_table_of
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.testing.contracts import PluginContract
from pairing.testing.counting import peak_bytes, steps
from pairing.testing.kitchen import bare, sample_recipes, sample_shelf

__all__ = ["RuleContract"]

SPARE_BYTES = 100_000
"""Memory that a rule may hold however few the rows are."""


class RuleContract(PluginContract):
    """A plugin that brings rules.

    ``answers`` may hold known answers: ``(rule id, recipe, lowest, highest)`` for the feature of a rule on a recipe of
    the shelf, for ``dose`` that of its first addition; with parts of each of them.
    """

    answers: ClassVar[Sequence[tuple[str, Recipe, float, float]]] = ()
    quiet: ClassVar[Sequence[str]] = ()
    """Ids of rules that rightly say nothing on the sample."""

    def shelf(self) -> Shelf:
        """Return what the recipes are made of."""
        return sample_shelf()

    def recipes(self, shelf: Shelf) -> list[Recipe]:
        """Return recipes that the rules are tried on."""
        return sample_recipes(shelf)

    @pytest.fixture
    def rules(self, host: Host) -> tuple[HostedRule, ...]:
        """Return the rules, of which there has to be one."""
        assert host.rules, "pairing_rules returned no rule"
        return host.rules

    def test_features_are_in_range(self, rules: tuple[HostedRule, ...]) -> None:
        """Right length, numbers, finite, within [-1, 1]."""
        for rule in rules:
            self._features(rule, self.recipes(self.shelf()))

    def test_every_rule_says_something(self, rules: tuple[HostedRule, ...]) -> None:
        """No rule is 0 everywhere: one that never applies was probably never tried."""
        for rule in rules:
            if rule.id.partition(":")[2] not in self.quiet:
                assert np.any(self._features(rule, self.recipes(self.shelf()))), f"{rule.id} is 0 on every sample row"

    def test_a_row_does_not_depend_on_the_others(self, rules: tuple[HostedRule, ...]) -> None:
        """Same recipe, same feature: whatever the order and whatever else is asked in the same call."""
        recipes = self.recipes(self.shelf())
        few = recipes[:: max(len(recipes) // 30, 1)]
        for rule in rules:
            together = self._features(rule, few)
            sizes = [len(r.doses) if rule.acts_on == "dose" else 1 for r in few]
            apart = [self._features(rule, [recipe]) for recipe in few]
            np.testing.assert_allclose(np.concatenate(apart), together, err_msg=f"{rule.id} depends on other rows")
            backwards = np.split(self._features(rule, few[::-1]), np.cumsum(sizes[::-1])[:-1])
            again = np.concatenate(backwards[::-1])
            np.testing.assert_allclose(again, together, err_msg=f"{rule.id} depends on the order of rows")

    def test_nothing_to_judge_is_no_fault(self, rules: tuple[HostedRule, ...]) -> None:
        """An empty table gives an empty feature."""
        for rule in rules:
            assert len(self._features(rule, [])) == 0

    def test_unknown_facts_are_no_fault(self, rules: tuple[HostedRule, ...]) -> None:
        """With every fact unknown and doses open nothing breaks, and a rule that needs something says nothing."""
        shelf = self.shelf()
        recipes = [Recipe(r.base_id, dict.fromkeys(r.doses)) for r in self.recipes(shelf) if r.doses][:100]
        for rule in rules:
            features = self._features(rule, recipes, bare(shelf))
            assert not (rule.needs and np.any(features)), f"{rule.id} claims something without what it needs"

    def test_because_is_a_sentence(self, rules: tuple[HostedRule, ...]) -> None:
        """``because`` returns words for any recipe."""
        for rule in rules:
            shelf = self.shelf()
            for recipe in self.recipes(shelf)[:50]:
                text, _ = scoring.because(rule, recipe, shelf, strict=True)
                assert text

    def test_many_rows_are_one_piece_of_work(self, rules: tuple[HostedRule, ...]) -> None:
        """Ten times the rows are as many steps of Python, and at most some ten times the memory: it is vectorised."""
        shelf = self.shelf()
        some = self.recipes(shelf)
        for rule in rules:
            few, many = (_table(rule.acts_on, shelf, some * times) for times in (1, 10))
            ask = [partial(rule.feature, rows) for rows in (few, many)]
            for first in ask:
                first()  # fills caches
            taken, held = list(map(steps, ask)), list(map(peak_bytes, ask))
            told = f"for {len(few)} and {len(many)} rows {rule.id} takes {taken} steps and holds {held} bytes"
            assert taken[1] <= 2 * taken[0], told
            assert held[1] <= 20 * held[0] + SPARE_BYTES, told

    def test_known_answers(self, rules: tuple[HostedRule, ...]) -> None:
        """What ``answers`` says."""
        by_id = {rule.id.partition(":")[2]: rule for rule in rules}
        for name, recipe, low, high in self.answers:
            for value in np.atleast_1d(self._features(by_id[name], [recipe])[0]):
                assert low <= value <= high, f"{name} is {value:g} for {recipe}"

    def _features(self, rule: HostedRule, recipes: Sequence[Recipe], shelf: Shelf | None = None) -> Any:
        matrix, _ = scoring.features([rule], _table(rule.acts_on, shelf or self.shelf(), recipes), strict=True)
        return matrix if getattr(rule, "parts", ()) else matrix[:, 0]


def _table(acts_on: str, shelf: Shelf, recipes: Sequence[Recipe]) -> RecipeTable | AdditionTable:
    table = addition_table_of if acts_on == "dose" else recipe_table_of
    return table(shelf, Recipes.of(shelf, recipes))
