"""What a model has to beat: guesses made by hand on a few cups."""

import numpy as np
import pytest

from pairing.learned.baselines import BASELINES, Rows
from pairing.model.recipes import Recipes

OPEN = np.nan


def rows(*cups):
    """Base, flavourings, taster, score."""
    slots = np.array([[*ids, -1, -1][:2] for _, ids, _, _ in cups], np.int64)
    recipes = Recipes.at([b for b, *_ in cups], slots, np.full(slots.shape, OPEN))
    return Rows(recipes, np.array([t for *_, t, _ in cups]), np.array([float(s) for *_, s in cups]), 2)


TRAIN = rows((0, [0], 0, 8), (0, [0, 1], 1, 6), (1, [1], 0, 2), (1, [], 1, 4))
ASKED = rows((0, [0], 0, 1), (1, [0, 1], 0, 1), (0, [2], 1, 1), (0, [], 0, 1))


def test_the_average_is_that_of_what_was_learned_from():
    assert BASELINES["average"](TRAIN, ASKED).tolist() == [5, 5, 5, 5]


def test_flavouring_means_are_averaged_over_the_cup_and_unknown_ones_are_the_average():
    assert BASELINES["flavouring mean"](TRAIN, ASKED).tolist() == [7, 5.5, 5, 5]


def test_additive_ridge_learns_bases_flavourings_and_people():
    rng = np.random.default_rng(0)
    cups = []
    for _ in range(300):
        base, item, who = rng.integers(2), rng.integers(3), rng.integers(2)
        cups.append((base, [item], who, 4 + base + [0, 1, 2][item] - who + 0.1 * rng.standard_normal()))
    guess = BASELINES["additive ridge"](rows(*cups), rows((1, [2], 0, 0), (0, [0], 1, 0)))
    np.testing.assert_allclose(guess, [7, 3], atol=0.1)


@pytest.mark.parametrize("name", BASELINES)
def test_the_scores_asked_for_are_not_looked_at(name):
    other = Rows(ASKED.recipes, ASKED.taster, ASKED.score + 5, ASKED.n_tasters)
    np.testing.assert_array_equal(BASELINES[name](TRAIN, ASKED), BASELINES[name](TRAIN, other))
