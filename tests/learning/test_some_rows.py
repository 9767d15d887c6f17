"""Cups that variances are learned from: whole cells of some flavourings, with pairs among them."""

import numpy as np

from pairing.learning.some_rows import LEAST_FLAVOURINGS, cut_off, highest_places, rows_up_to, variance_rows
from pairing.model.recipes import Recipes


def cups(n, n_flavourings, rng):
    slots = rng.integers(0, n_flavourings, (n, 2))
    slots[:, 1][slots[:, 1] == slots[:, 0]] = -1
    return Recipes.at(np.zeros(n, np.int64), slots)


def test_a_small_log_is_taken_whole():
    assert variance_rows(cups(50, 40, np.random.default_rng(0)), 40, many=50) is None


def test_all_cups_of_some_flavourings_are_taken():
    recipes = cups(20_000, 200, np.random.default_rng(1))
    rows = variance_rows(recipes, 200, many=5000)
    used = np.unique(recipes.flavouring[rows][recipes.present[rows]])
    whole = np.isin(np.where(recipes.present, recipes.flavouring, used[0]), used).all(axis=1)
    assert 5000 < len(rows) < 6000
    assert np.array_equal(rows, np.flatnonzero(whole))


def test_there_are_pairs_even_where_each_flavouring_has_very_many_cups():
    recipes = cups(20_000, 200, np.random.default_rng(2))
    rows = variance_rows(recipes, 200, many=50)
    used = np.unique(recipes.flavouring[rows][recipes.present[rows]])
    assert len(used) >= 0.5 * LEAST_FLAVOURINGS
    assert 50 <= len(rows) < 150


def test_counts_of_parts_give_the_rows_of_the_whole():
    recipes = cups(20_000, 200, np.random.default_rng(3))
    highest = highest_places(recipes, 200)
    counts = sum(np.bincount(part + 1, minlength=201) for part in np.array_split(highest, 3))
    assert np.array_equal(variance_rows(recipes, 200, many=5000), rows_up_to(highest, *cut_off(counts, 5000)))
