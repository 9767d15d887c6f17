import gc
import math

import numpy as np
import pytest

from pairing.errors import TableError, UnknownIdError
from pairing.host.tables import (
    addition_table,
    addition_table_of,
    facts_of,
    recipe_table,
    recipe_table_of,
)
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf


@pytest.fixture
def shelf():
    bases = [
        Base(base_id="oat", name="Oat", fat_g_per_100g=1.5, allergens="none", tags="thick; sweet"),
        Base(base_id="whey", name="Whey", protein_g_per_100g=8, allergens="milk"),
    ]
    flavourings = [
        Flavouring(flavouring_id="plum", name="Plum", fat_loving=0.2, tags="sour", carrier="ethanol:0.3;water"),
        Flavouring(flavouring_id="clove", name="Clove", fat_loving=0.9, solubility="Oil"),
        Flavouring(flavouring_id="mint", name="Mint", carrier="none", tags="none"),
    ]
    return Shelf.of(bases, flavourings)


def test_recipe_rows_hold_base_and_slot_columns(shelf):
    table = recipe_table(shelf, ["whey", "oat", "oat"], [("clove", "plum"), ("mint",), ()], [(1, 2), (None,), ()])
    assert len(table) == 3
    np.testing.assert_array_equal(table.base_fat_g_per_100g, [np.nan, 1.5, 1.5])
    np.testing.assert_array_equal(table["fat_loving"], [[0.9, 0.2], [np.nan, np.nan], [np.nan, np.nan]])
    np.testing.assert_array_equal(table.dose_g_per_kg, [[1, 2], [np.nan, 0], [0, 0]])
    np.testing.assert_array_equal(table.n_flavourings, [2, 1, 0])
    np.testing.assert_array_equal(table.incidence, [[True, True, False], [False, False, True], [False] * 3])
    np.testing.assert_allclose(table.base_fraction, [0.997, np.nan, 1])
    np.testing.assert_allclose(table.total(table.dose_g_per_kg), [3, np.nan, 0])


def test_words_and_amounts_are_found_whatever_their_case(shelf):
    table = recipe_table(shelf, ["oat", "whey"], [("plum",), ("clove", "mint")])
    assert table.has("base_tags", "Thick").tolist() == [True, False]
    assert table.has("solubility", "oil").tolist() == [[False, False], [True, False]]
    assert table.any(table.has("tags", "sour")).tolist() == [True, False]
    np.testing.assert_array_equal(table.amount("carrier", "ethanol"), [[0.3, np.nan], [np.nan, 0]])
    assert math.isnan(table.amount("carrier", "water")[0, 0]), "a part without a number is an unknown amount"


def test_unknown_is_told_from_none_and_named(shelf):
    table = recipe_table(shelf, ["oat", "whey"], [("plum",), ("clove", "mint")], [(1,), (None, 2)])
    assert table.known("tags").tolist() == [True, False], "declared none is known, an empty cell is not"
    assert table.unknown_ids("tags") == ("clove",)
    assert table.known("base_fat_g_per_100g").tolist() == [True, False]
    assert table.unknown_ids("base_fat_g_per_100g") == ("whey",)
    assert table.known("dose_g_per_kg").tolist() == [True, False]
    assert table.unknown_ids("dose_g_per_kg") == ("clove",)


def test_additions_come_recipe_by_recipe_with_their_companions(shelf):
    table = addition_table(shelf, ["whey", "oat", "oat"], [("clove", "plum"), (), ("mint",)])
    assert table.recipe.tolist() == [0, 0, 2]
    assert table.flavouring_index.tolist() == [1, 0, 2]
    assert table.companions.tolist() == [1, 1, 0]
    np.testing.assert_array_equal(table.base_protein_g_per_100g, [8, 8, np.nan])
    np.testing.assert_array_equal(table.companion("fat_loving"), [[np.nan, 0.2], [0.9, np.nan], [np.nan, np.nan]])
    assert table.companion_has("tags", "sour").any(axis=1).tolist() == [True, False, False]


def test_ids_and_places_on_the_shelf_say_the_same(shelf):
    by_id = recipe_table(shelf, ["oat", "whey"], [("plum", "mint"), ("clove",)], [(1, 2), (3,)])
    by_place = recipe_table_of(shelf, Recipes.at([0, 1], [[0, 2], [1, -1]], [[1, 2], [3, np.nan]]))
    for name in ("base_index", "flavouring_index", "dose_g_per_kg", "incidence"):
        np.testing.assert_array_equal(getattr(by_id, name), getattr(by_place, name))
    additions = addition_table_of(shelf, Recipes.at([0, 1], [[0, 2], [-1, 1]]))
    assert additions.flavouring_index.tolist() == [0, 2, 1]


def test_columns_cannot_be_written(shelf):
    table = recipe_table(shelf, ["oat"], [("plum",)], [(1,)])
    for array in (table.dose_g_per_kg, table.base_index, table.present, table.incidence):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
    with pytest.raises(ValueError, match="read-only"):
        facts_of(shelf)[0].numbers("fat_g_per_100g")[0] = 9
    table.base_fat_g_per_100g[0] = 99
    assert table.base_fat_g_per_100g[0] == 1.5, "a rule that writes into its own copy changes nobody else's"


@pytest.mark.parametrize(
    ("base_index", "slots", "dose", "says"),
    [
        ([2], [[0]], None, "base index is outside 0 to 1"),
        ([-1], [[0]], None, "base index"),
        ([0], [[3]], None, "flavouring index"),
        ([0], [[-2]], None, "flavouring index"),
        ([0, 1], [[0]], None, "shape"),
        ([0], [0], None, "shape"),
        ([0], [[0]], [[1, 2]], "doses have shape"),
    ],
)
def test_places_off_the_shelf_are_refused(shelf, base_index, slots, dose, says):
    with pytest.raises(TableError, match=says):
        recipe_table_of(shelf, Recipes.at(base_index, slots, dose))


def test_unknown_ids_and_columns_are_named_with_the_nearest(shelf):
    with pytest.raises(UnknownIdError, match="did you mean plum"):
        recipe_table(shelf, ["oat"], [("plumm",)])
    with pytest.raises(UnknownIdError, match="did you mean oat"):
        addition_table(shelf, ["ot"], [("plum",)])
    with pytest.raises(TableError, match="one dose, or None, per flavouring"):
        recipe_table(shelf, ["oat"], [("plum",)], [(1, 2)])
    with pytest.raises(TableError, match="one list per base id"):
        recipe_table(shelf, ["oat"], [])
    table = recipe_table(shelf, ["oat"], [("plum",)])
    with pytest.raises(AttributeError, match="did you mean fat_loving"):
        _ = table.fat_lovin
    with pytest.raises(TableError, match="holds words, not numbers"):
        _ = table["tags"]
    with pytest.raises(TableError, match="no amounts"):
        table.amount("tags", "sour")


def test_facts_are_kept_as_long_as_their_shelf(shelf):
    assert facts_of(shelf)[0] is facts_of(shelf)[0]
    other = Shelf.of([], [])
    assert facts_of(other)[0] is not facts_of(shelf)[0]
    del other
    gc.collect()
    assert len(facts_of(Shelf.of([], []))[0]) == 0


def test_no_recipes_and_no_flavourings_make_empty_tables(shelf):
    assert recipe_table(shelf, [], []).incidence.shape == (0, 3)
    assert len(addition_table(shelf, ["oat"], [()])) == 0


def test_bases_made_from_parts_are_seen_as_composed():
    shelf = Shelf.of(
        [
            Base(base_id="powder", name="Powder", fat_g_per_100g=10, allergens="milk"),
            Base(base_id="shake", name="Shake", made_from="powder:50;water:150"),
            Base(base_id="guess", name="Guess", made_from="nobody-knows:50;water:150"),
        ],
        [],
    )
    table = recipe_table(shelf, ["powder", "shake", "guess"], [(), (), ()])
    np.testing.assert_allclose(table.base_fat_g_per_100g, [10, 2.5, np.nan])
    assert table.has("base_allergens", "milk").tolist() == [True, True, False]
    assert table.known("base_allergens").tolist() == [True, True, False]
