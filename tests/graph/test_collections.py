"""Familiar partners on collections whose answer is known."""

from functools import partial

import numpy as np
import pytest

import pairing
from pairing.errors import TableError
from pairing.graph import from_collections
from pairing.testing.counting import steps

SETS = [{"cherry", "vanilla"}] * 6 + [{"mint", "cocoa"}] * 6 + [{"cherry", "cocoa"}] + [{"salt"}]


def planted(rng, n_recipes=1500, n_names=80):
    """Recipes of random names, popular ones more often; whoever takes 2k mostly takes 2k+1 too (k < 5)."""
    weight = 1 / np.arange(1, n_names + 1) ** 0.7
    rng.shuffle(weight)
    made = []
    for _ in range(n_recipes):
        chosen = set(rng.choice(n_names, size=rng.integers(3, 8), replace=False, p=weight / weight.sum()).tolist())
        chosen |= {i + 1 for i in chosen if i < 10 and i % 2 == 0 and rng.random() < 0.6}
        made.append({f"n{i:02d}" for i in chosen})
    return made


def test_names_in_names_out_context_left_out():
    partners = from_collections(SETS).rank_partners(["cherry"])
    assert partners[0] == "vanilla"
    assert set(partners) == {"vanilla", "cocoa", "mint", "salt"}


def test_planted_partners_rank_first_though_others_are_more_popular():
    familiar = from_collections(planted(np.random.default_rng(1)))
    assert [familiar.rank_partners([f"n{i:02d}"], 1)[0] for i in range(0, 10, 2)] == [
        f"n{i + 1:02d}" for i in range(0, 10, 2)
    ]


def test_affinity_is_symmetric_bounded_and_zero_for_the_unknown():
    familiar = from_collections(SETS)
    assert familiar.affinity("cherry", "vanilla") == familiar.affinity("vanilla", "cherry") > 0.2
    assert -1 < familiar.affinity("cherry", "mint") < -0.2
    assert familiar.affinity("cherry", "nobody knows") == familiar.affinity("cherry", "cherry") == 0.0


def test_affinity_of_independent_names_is_about_zero():
    rng = np.random.default_rng(0)
    sets = [["water", *(name for name in "abcdef" if rng.random() < 0.4)] for _ in range(4000)]
    familiar = from_collections(sets)
    assert max(abs(familiar.affinity(a, b)) for a in "abcdef" for b in familiar.names) < 0.05


def test_little_evidence_gives_little_affinity():
    once = from_collections([["a", "b"]] + [["c"]] * 9)
    often = from_collections([["a", "b"]] * 20 + [["c"]] * 180)
    assert 0 < once.affinity("a", "b") < 0.3 < often.affinity("a", "b")


def test_empty_or_unknown_context_ranks_by_popularity():
    familiar = from_collections([["a", "b"], ["a", "c"], ["a", "b"], ["b", "a"]])
    assert familiar.rank_partners([], n=2) == ["a", "b"] == familiar.rank_partners(["zzz"], n=2)


def test_order_of_recipes_and_of_names_changes_nothing():
    sets = planted(np.random.default_rng(2), 300, 40)
    turned = [sorted(recipe, reverse=True) for recipe in reversed(sets)]
    for context in sets[:20]:
        assert from_collections(sets).rank_partners(context, 5) == from_collections(turned).rank_partners(context, 5)


def test_names_are_trimmed_and_counted_once_per_recipe():
    familiar = from_collections([[" cherry ", "cherry", "vanilla"], ["cherry"], [], [""]])
    assert familiar.names == ("cherry", "vanilla")
    assert familiar.n_recipes == 2
    assert familiar.graph().nodes["cherry"]["uses"] == 2


def test_graph_has_pairs_beyond_chance():
    graph = from_collections(SETS).graph()
    assert set(map(frozenset, graph.edges)) == {frozenset({"cherry", "vanilla"}), frozenset({"mint", "cocoa"})}
    assert graph.edges["cherry", "vanilla"]["recipes"] == 6
    assert graph.nodes["salt"]["uses"] == 1


@pytest.mark.parametrize("sets", [[], [[]], "cherry", ["cherry", "mint"], [["cherry", None]], [3]])
def test_what_is_no_collection_is_refused_with_a_remedy(sets):
    with pytest.raises(TableError) as refused:
        from_collections(sets)
    assert refused.value.hint


def test_bad_questions_are_refused():
    familiar = from_collections(SETS)
    with pytest.raises(TableError, match="n is 0"):
        familiar.rank_partners(["cherry"], n=0)
    with pytest.raises(TableError, match="cherry"):
        familiar.rank_partners("cherry")


def test_reached_through_the_package():
    assert pairing.graph.from_collections is from_collections


def test_a_cookbook_is_read_once_and_asked_without_reading_it():
    sets = planted(np.random.default_rng(3), 2500, 300)
    learned = [steps(partial(from_collections, sets[:n])) for n in (1250, 2500)]
    assert learned[1] <= 2.2 * learned[0]
    asked = [steps(partial(from_collections(sets[:n]).rank_partners, ["n10"])) for n in (1250, 2500)]
    assert asked[1] <= 1.1 * asked[0]


@pytest.mark.parametrize("nothing", [None, 3])
def test_what_is_no_collection_is_refused(nothing):
    with pytest.raises(TableError, match=f"the collection is {nothing}"):
        from_collections(nothing)
