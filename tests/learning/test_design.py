"""What could matter in a cup: entries of every block."""

import numpy as np
import pytest
from small_logs import BASES, FLAVOURINGS, cup, learn

from pairing.learning import liking, strength
from pairing.learning.block import entries_of
from pairing.learning.design import MAX_AVERAGED, Traits, Who, additions_of, pairs_of
from pairing.learning.effects import CHILD_SCALE
from pairing.learning.scene import Scene
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.store.exchange import clean


def shelf_of(bases=BASES, flavourings=FLAVOURINGS):
    return Shelf.from_tables(clean("bases", bases).table, clean("flavourings", flavourings).table)


def versions(column, ids, of):
    frame = FLAVOURINGS if column == "flavouring_id" else BASES
    return frame.assign(version_of=frame[column].map(dict(zip(ids, of, strict=True))))


def by_key(entries, row=0):
    at = entries.row == row
    return dict(zip(entries.key[at].tolist(), entries.value[at].tolist(), strict=True))


def liking_entries(recipes, traits, who=None):
    return entries_of(liking.BLOCKS, Scene.of_recipes(recipes, traits, who))


def dose_entries(adds, recipes, traits):
    return entries_of(strength.BLOCKS, Scene.of_additions(adds, recipes, traits))


def test_every_pair_of_a_cup_once_in_order_of_the_shelf():
    recipes = Recipes.of(shelf_of(), [Recipe("oat", {"rose": 1, "quince": 1, "smoke": 1}), Recipe("oat", {"clove": 1})])
    row, one, two = pairs_of(recipes)
    assert row.tolist() == [0, 0, 0]
    assert sorted(zip(one.tolist(), two.tolist(), strict=True)) == [(0, 2), (0, 3), (2, 3)]


def test_a_pair_is_the_same_whichever_comes_first():
    shelf = shelf_of()
    recipes = Recipes.of(shelf, [Recipe("oat", {"rose": 1, "quince": 1}), Recipe("oat", {"quince": 1, "rose": 1})])
    entries = liking_entries(recipes, Traits.of(shelf))
    for name in ("pair", "pair*base", "family*family"):
        assert by_key(entries[name], 0) == by_key(entries[name], 1), name


def test_a_plain_cup_has_no_flavouring():
    shelf = shelf_of()
    entries = liking_entries(Recipes.of(shelf, [Recipe("oat", {})]), Traits.of(shelf))
    assert by_key(entries["plain"]) == {0: 1.0}
    assert "flavouring" not in entries


def test_the_number_of_flavourings_and_of_pairs_has_columns():
    shelf = shelf_of()
    sizes = [Recipe("oat", dict.fromkeys(list(shelf.flavourings)[:n], 1.0)) for n in (1, 2, 3, 4)]
    entries = liking_entries(Recipes.of(shelf, sizes), Traits.of(shelf))
    assert [by_key(entries["flavourings"], i) for i in range(4)] == [{}, {0: 1.0}, {0: 2.0}, {0: 3.0}]
    assert [by_key(entries["pairs"], i) for i in range(4)] == [{}, {}, {0: 1.0}, {0: 3.0}]


def test_a_version_shares_all_columns_of_its_parent():
    shelf = shelf_of(flavourings=versions("flavouring_id", ["smoke"], ["quince"]))
    entries = liking_entries(
        Recipes.of(shelf, [Recipe("oat", {"smoke": 1}), Recipe("oat", {"quince": 1})]), Traits.of(shelf)
    )
    assert by_key(entries["flavouring"], 0) == {2: 1.0, 0: 1.0}
    assert by_key(entries["flavouring"], 1) == {0: 1.0}
    assert by_key(entries["affinity"], 0) == {2: 1.0, 0: 1.0}
    assert by_key(entries["affinity"], 1) == {0: 1.0}
    own = entries["flavouring"]
    assert dict(zip(own.key[own.row == 0].tolist(), own.scale[own.row == 0].tolist(), strict=True)) == {
        2: CHILD_SCALE,
        0: 1.0,
    }


def test_a_circle_of_versions_comes_to_an_end():
    shelf = shelf_of(bases=versions("base_id", ["oat", "milk", "rice"], ["milk", "rice", "oat"]))
    parent = Traits.of(shelf).base_parent
    assert (parent < 0).any()
    entries = liking_entries(Recipes.of(shelf, [Recipe("oat", {"quince": 1})]), Traits.of(shelf))
    assert len(entries["base"].row) <= 3


@pytest.mark.parametrize("blocks_of", [liking.blocks_of, strength.blocks_of])
def test_one_base_cannot_be_told_from_the_average(blocks_of):
    """Every block whose key speaks of a base, or of its composition, is out of use then."""
    one, three = Traits.of(shelf_of(bases=BASES.iloc[:1])), Traits.of(shelf_of())
    gone = {block.name for block in blocks_of(three)} - {block.name for block in blocks_of(one)}
    assert {"base", "affinity", "base*family", "trait*flavouring"} <= gone
    assert gone == {n for n in gone if "base" in n or "trait" in n or n in ("affinity", "thickening")}
    assert not {n for n in (b.name for b in blocks_of(one)) if "base" in n or "trait" in n}


def test_a_log_of_one_base_has_no_columns_for_it():
    cups = [cup("oat", {"quince": 2.0, "rose": 1.0}, 3, 6), cup("oat", {"clove": 1.0}, 2, 5), cup("oat", {}, None, 4)]
    model = learn(*cups, bases=BASES.iloc[:1])
    for part in (model.liking, model.strength):
        assert {block.name for block in part.columns.blocks if block.between_bases} == set()
        assert set(part.columns.keys) <= {block.name for block in part.columns.blocks}
    assert "base" not in set(model.explain(Recipe("oat", {"quince": 2.0}))["kind"])


def test_unknown_composition_counts_as_average():
    bases = BASES.assign(fat_g_per_100g=[1.0, np.nan, 3.0])
    traits = Traits.of(shelf_of(bases=bases))
    assert traits.fat.tolist() == pytest.approx([-1, 0, 1])
    assert np.isfinite(traits.base_traits).all()


def test_companions_push_on_each_other_but_not_on_themselves():
    shelf = shelf_of()
    recipes = Recipes.of(shelf, [Recipe("oat", {"quince": 1, "rose": 1}), Recipe("oat", {"clove": 1})])
    adds = additions_of(recipes)
    entries = dose_entries(adds, recipes, Traits.of(shelf))
    assert [by_key(entries["masking"], i) for i in range(3)] == [{3: 1.0}, {0: 1.0}, {}]
    assert [by_key(entries["companions"], i) for i in range(3)] == [{0: 1.0}, {0: 1.0}, {}]


def test_the_mean_of_tasters_gives_each_an_equal_share():
    shelf = shelf_of()
    recipes = Recipes.of(shelf, [Recipe("oat", {"quince": 1})])
    mean = liking_entries(recipes, Traits.of(shelf), Who.everyone(1, 3))
    assert by_key(mean["taster"]) == pytest.approx({0: 1 / 3, 1: 1 / 3, 2: 1 / 3})
    one = liking_entries(recipes, Traits.of(shelf), Who(np.array([1]), 3))
    assert by_key(one["taster"]) == {1: 1.0}
    assert by_key(one["taster*flavouring"]) == {1 * 4 + 0: 1.0}
    many = liking_entries(recipes, Traits.of(shelf), Who.everyone(1, MAX_AVERAGED + 1))
    assert "taster" not in many
