"""Recipes as arrays: one container, one encoder of ids."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pairing.errors import TableError, UnknownIdError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf


@pytest.fixture
def shelf():
    return Shelf.of(
        [Base(base_id=name, name=name) for name in ("oat", "milk", "rice")],
        [Flavouring(flavouring_id=name, name=name) for name in ("quince", "rose", "clove")],
    )


def test_recipes_become_arrays_and_an_open_dose_stays_open(shelf):
    recipes = Recipes.of(shelf, [Recipe("oat", {"quince": None, "rose": 2.0}), Recipe("rice", {})])
    assert recipes.count.tolist() == [2, 0]
    assert np.isnan(recipes.log_dose[0, 0])
    assert recipes.log_dose[0, 1] == pytest.approx(np.log(2.0))
    assert np.isnan(recipes.open().log_dose).all()


def test_recipes_of_different_width_stack(shelf):
    narrow, wide = (
        Recipes.of(shelf, [Recipe("oat", {"quince": 1.0})]),
        Recipes.of(shelf, [Recipe("oat", {"clove": 1.0, "rose": 1.0})]),
    )
    assert Recipes.stack([narrow, wide]).count.tolist() == [1, 2]


def test_recipes_and_ids_are_encoded_alike(shelf):
    recipes = [Recipe("milk", {"rose": 2.0, "clove": None}), Recipe("oat"), Recipe("rice", {"quince": 0.5})]
    by_object = Recipes.of(shelf, recipes)
    ids = [("clove", "rose"), (), ("quince",)]
    by_id = Recipes.from_ids(shelf, ["milk", "oat", "rice"], ids, [(None, 2), None, (0.5,)])
    by_place = Recipes.at([1, 0, 2], [[2, 1], [-1, -1], [0, -1]], [[np.nan, 2], [np.nan, np.nan], [0.5, np.nan]])
    for one in (by_object, by_id):
        for name in ("base", "flavouring", "dose_g_per_kg"):
            np.testing.assert_array_equal(getattr(one, name), getattr(by_place, name))


def test_a_flavouring_at_no_dose_is_not_in_a_recipe(shelf):
    assert Recipes.of(shelf, Recipe("oat", {"rose": 0.0, "clove": 1.0})).flavouring.tolist() == [[2]]
    with pytest.raises(TableError, match="not above 0"):
        Recipes.from_ids(shelf, ["oat"], [("rose",)], [(0.0,)])


@pytest.mark.parametrize(
    ("base_ids", "flavouring_ids", "doses", "error", "says"),
    [
        (["oats"], [("rose",)], None, UnknownIdError, "did you mean oat"),
        (["oat"], [("roses",)], None, UnknownIdError, "did you mean rose"),
        (["oat"], [], None, TableError, "one list per base id"),
        (["oat"], [("rose",)], [(1, 2)], TableError, "one dose, or None, per flavouring"),
        (["oat"], [("rose",)], [], TableError, "one list per recipe"),
    ],
)
def test_what_cannot_be_encoded_is_refused(shelf, base_ids, flavouring_ids, doses, error, says):
    with pytest.raises(error, match=says):
        Recipes.from_ids(shelf, base_ids, flavouring_ids, doses)


def test_something_else_is_no_recipe(shelf):
    with pytest.raises(TableError, match="is no recipe"):
        Recipes.of(shelf, ["oat"])


@pytest.mark.parametrize(
    ("base", "slots", "dose"), [([0, 1], [[0]], None), ([0], [0], None), ([0], [[0]], [[1.0, 2.0]])]
)
def test_arrays_of_different_shapes_are_refused(base, slots, dose):
    with pytest.raises(TableError, match="shape"):
        Recipes.at(base, slots, dose)


def test_recipes_below_one_another_keep_their_lots_and_have_none_in_empty_slots():
    one = replace(Recipes.at([0], [[1]], [[2.0]]), lot=np.array([[4]]))
    both = Recipes.stack([one, Recipes.at([1], [[0, 2]], [[1.0, 3.0]])])
    assert both.flavouring.tolist() == [[1, -1], [0, 2]]
    assert both.told_lot.tolist() == [[4, -1], [-1, -1]]
