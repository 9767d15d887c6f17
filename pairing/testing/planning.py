"""What limits, goals and baselines of plugins have to keep to, as tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar

import numpy as np
import pytest

from pairing.api import Recipe, Scores
from pairing.host import Host, scoring
from pairing.host.guessing import guess
from pairing.host.rules import HostedRule
from pairing.host.tables import recipe_table_of
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.testing.contracts import PluginContract
from pairing.testing.kitchen import bare, sample_recipes, sample_shelf

__all__ = ["BaselineContract", "GoalContract", "LimitContract"]


class LimitContract(PluginContract):
    """A plugin that brings hard limits. Set ``settings`` to what makes it bring some.

    ``answers`` may hold known answers: ``(limit id, recipe, passes)``.
    """

    answers: ClassVar[Sequence[tuple[str, Recipe, bool]]] = ()

    def test_limits_say_yes_or_no_alike_of_every_recipe(self, host: Host) -> None:
        """True or False, whatever else is asked in the same call, and words for what is left out."""
        shelf = sample_shelf()
        recipes = sample_recipes(shelf)
        assert host.limits, "pairing_limits returned no limit"
        for limit in host.limits:
            together = _asked(limit, shelf, recipes)
            assert set(together.tolist()) <= {0.0, 1.0}
            few = range(0, len(recipes), max(len(recipes) // 30, 1))
            assert [_asked(limit, shelf, [recipes[i]])[0] for i in few] == [together[i] for i in few]
            text, _ = scoring.because(limit, recipes[int(together.argmin())], shelf, strict=True)
            assert text

    def test_what_is_unknown_does_not_pass(self, host: Host) -> None:
        """A limit that needs a fact is not kept by a recipe that lacks it."""
        shelf = sample_shelf()
        some = [recipe for recipe in sample_recipes(shelf) if recipe.doses][:50]
        recipes = [Recipe(recipe.base_id, dict.fromkeys(recipe.doses)) for recipe in some]  # doses open, too
        for limit in host.limits:
            if limit.needs:
                assert not _asked(limit, bare(shelf), recipes).any(), f"{limit.id} passes what is unknown"

    def test_known_answers(self, host: Host) -> None:
        """What ``answers`` says."""
        by_id = {limit.id.partition(":")[2]: limit for limit in host.limits}
        for name, recipe, passes in self.answers:
            assert bool(_asked(by_id[name], sample_shelf(), [recipe])[0]) is passes, f"{name} for {recipe}"


class GoalContract(PluginContract):
    """A plugin that brings goals. Set ``settings`` to what makes it bring some.

    ``answers`` may hold known answers: ``(goal id, recipe, lowest, highest)`` for the feature.
    """

    answers: ClassVar[Sequence[tuple[str, Recipe, float, float]]] = ()

    def test_goals_are_in_range_and_have_words(self, host: Host) -> None:
        """Numbers within [-1, 1], not 0 everywhere, and a reason for each recipe."""
        shelf = sample_shelf()
        recipes = sample_recipes(shelf)
        assert host.goals, "pairing_goals returned no goal"
        for goal in host.goals:
            values = _asked(goal, shelf, recipes)
            assert values.any(), f"{goal.id} is 0 on every sample recipe"
            text, _ = scoring.because(goal, recipes[int(np.abs(values).argmax())], shelf, strict=True)
            assert text

    def test_known_answers(self, host: Host) -> None:
        """What ``answers`` says."""
        by_id = {goal.id.partition(":")[2]: goal for goal in host.goals}
        for name, recipe, low, high in self.answers:
            value = _asked(by_id[name], sample_shelf(), [recipe])[0]
            assert low <= value <= high, f"{name} is {value:g} for {recipe}"


def _asked(rule: HostedRule, shelf: Shelf, recipes: Sequence[Recipe]) -> Any:
    return scoring.features([rule], recipe_table_of(shelf, Recipes.of(shelf, recipes)), strict=True)[0][:, 0]


class BaselineContract(PluginContract):
    """A plugin that brings guesses of liking."""

    @pytest.fixture
    def scores(self) -> Scores:
        """Return invented cups, each with a liking that rests on its flavourings."""
        shelf = sample_shelf()
        recipes = sample_recipes(shelf, 200)
        table = recipe_table_of(shelf, Recipes.of(shelf, recipes))
        liking = 5.0 + np.clip(table.incidence.astype(float) @ np.linspace(-2, 2, len(shelf.flavourings)), -4, 4)
        return Scores(table=table, taster=np.arange(len(table)) % 3, n_tasters=4, liking=liking)

    def test_guesses_are_likings(self, host: Host, scores: Scores) -> None:
        """One finite number per cup that is asked, the same each time, and none is told by the answer."""
        assert host.baselines, "pairing_baselines returned no baseline"
        asked = replace(scores, liking=np.full(len(scores.table), np.nan))
        for baseline in host.baselines:
            found, fault = guess(baseline, scores, asked)
            assert fault is None, fault and fault.line
            np.testing.assert_array_equal(found, guess(baseline, scores, asked)[0])
            lying = replace(scores, liking=np.ones(len(scores.table)))
            np.testing.assert_array_equal(found, guess(baseline, scores, lying)[0], f"{baseline.id} reads the answer")

    def test_nothing_to_learn_from_is_no_fault(self, host: Host, scores: Scores) -> None:
        """Without a cup to learn from it still guesses."""
        shelf = sample_shelf()
        empty = recipe_table_of(shelf, Recipes.of(shelf, []))
        nothing = Scores(table=empty, taster=scores.taster[:0], n_tasters=4, liking=scores.liking[:0])
        for baseline in host.baselines:
            assert guess(baseline, nothing, scores)[1] is None
