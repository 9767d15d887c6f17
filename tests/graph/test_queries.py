"""Questions to a graph whose answers are known."""

import itertools
from functools import partial

import networkx as nx
import pytest
from invented_graph import Invented, random_model

from pairing.errors import LogError, UnknownIdError
from pairing.graph.build import graph
from pairing.graph.groups import bottles, go_betweens, groups
from pairing.graph.queries import LIKELY, SURE, Questions
from pairing.testing.counting import steps

CLIQUES = [("date", "fig", "plum", "quince"), ("basil", "mint", "sage", "thyme")]


def two_groups(**options):
    ids = [*CLIQUES[0], *CLIQUES[1], "salt"]
    good = {pair: 1.5 for clique in CLIQUES for pair in itertools.combinations(clique, 2)} | {("plum", "basil"): 0.9}
    tried = dict.fromkeys(list(good)[::2], 4) | {("salt", "fig"): 6, ("plum", "basil"): 4}
    clash = {("salt", "fig"): -2.0}
    return Invented(ids, good | clash, tried, dict.fromkeys(ids, 3), **options)


@pytest.fixture(scope="module")
def asked():
    return Questions(graph(two_groups()))


def test_partners_tested_and_predicted_apart(asked):
    tested, predicted = asked.partners("fig")
    assert set(tested["partner"]) | set(predicted["partner"]) == set(asked.ids) - {"fig"}
    assert (tested["trials"] > 0).all()
    assert (predicted["trials"] == 0).all()
    assert set(tested["partner"][:-1]) | set(predicted["partner"][:2]) >= {"date", "plum", "quince"}
    assert tested["partner"].iloc[-1] == "salt"
    assert tested["high"].iloc[-1] < 0


def test_a_sure_partner_comes_before_an_unsure_one():
    model = Invented("abc", {("a", "b"): 0.8, ("a", "c"): 0.9}, {("a", "b"): 24, ("a", "c"): 1}, {"b": 1, "c": 1})
    assert Questions(graph(model)).partners("a")[0]["partner"].tolist() == ["b", "c"]


def test_between_goes_over_the_only_link(asked):
    ways = asked.between("date", "mint", n=3)
    assert ways["through"].iloc[0] == ("plum", "basil")
    expected = [asked.graph.edges[e]["p_positive"] for e in (("date", "plum"), ("plum", "basil"), ("basil", "mint"))]
    assert ways["probability"].iloc[0] == pytest.approx(expected[0] * expected[1] * expected[2])
    assert ways["p_weakest"].iloc[0] == min(expected)
    assert asked.graph.edges[ways["weakest"].iloc[0]]["p_positive"] == min(expected)
    assert ways["probability"].is_monotonic_decreasing


def test_between_leaves_the_direct_pair_out_and_may_find_nothing(asked):
    assert all(len(way) for way in asked.between("date", "fig")["through"])
    assert asked.between("salt", "fig").empty


def test_stand_ins_share_partners(asked):
    found = asked.stand_ins("date", n=3)
    assert set(found["stand_in"]) == {"fig", "plum", "quince"}
    assert set(found["shared"].iloc[0]) <= set(CLIQUES[0])
    assert asked.stand_ins("date", among=["sage", "quince"])["stand_in"].tolist() == ["quince"]


def test_stand_ins_are_food():
    asked = Questions(graph(two_groups(food_use={"quince": "unknown"})))
    assert "quince" not in asked.stand_ins("date", n=9)["stand_in"].tolist()


def test_an_inseparable_stand_in_says_so():
    pairs = {("a", "c"): 1.0, ("b", "c"): 1.0}
    asked = Questions(graph(Invented("abcd", pairs, {("a", "b"): 5}, {"c": 2, "d": 2})))
    found = asked.stand_ins("a").set_index("stand_in")
    assert "cannot be told apart" in found.loc["b", "note"]
    assert "cannot be told apart" in asked.partners("a")[0]["note"].iloc[0]


def test_gaps_are_untried_promising_and_food(asked):
    found = asked.gaps(5)
    pairs = set(zip(found["flavouring_a"], found["flavouring_b"], strict=True))
    untried = {tuple(sorted(e)) for e in asked.graph.edges if not asked.graph.edges[e]["tested"]}
    assert pairs <= untried
    planted = {pair for pair in untried if asked.graph.edges[pair]["synergy"] > 1}
    assert len(pairs & planted) == min(5, len(planted))
    unknown = Questions(graph(two_groups(food_use=dict.fromkeys(CLIQUES[0], "unknown")))).gaps(50)
    assert not set(CLIQUES[0]) & (set(unknown["flavouring_a"]) | set(unknown["flavouring_b"]))


def test_what_was_tried_neat_is_no_gap_for_its_dilution():
    versions = {"lime-1in10": "lime", "lime-1in100": "lime-1in10", "mint-2": "mint"}
    ids = ["lime", "mint", "plum", *versions]
    model = Invented(ids, tried={("lime", "plum"): 2, ("lime", "mint"): 1}, versions=versions)
    found = Questions(graph(model)).gaps(50)
    gaps = set(zip(found["flavouring_a"], found["flavouring_b"], strict=True))
    assert gaps == {("mint", "plum"), ("mint-2", "plum")}
    other = Questions(graph(Invented(ids, tried={("lime-1in10", "plum"): 1}, versions=versions))).gaps(50)
    gaps = set(zip(other["flavouring_a"], other["flavouring_b"], strict=True))
    assert ("lime", "plum") in gaps
    assert ("lime-1in100", "plum") not in gaps


def test_expected_gain_is_that_of_a_normal():
    model = Invented("abc", sd=0.5)
    gain = Questions(graph(model)).gaps(1)["gain"].iloc[0]
    assert gain == pytest.approx(0.5 / (2 * 3.141592653589793) ** 0.5)  # E[max(X, 0)] of a normal around 0


def test_groups_are_the_planted_ones(asked):
    assert groups(asked) == [tuple(sorted(CLIQUES[1])), tuple(sorted(CLIQUES[0]))]
    assert groups(asked, random_state=3) == groups(asked, random_state=3)


def test_go_betweens_link_the_groups(asked):
    nodes, edges = go_betweens(asked)
    assert set(nodes["flavouring_id"]) == {"plum", "basil"}
    assert edges[["flavouring_a", "flavouring_b"]].to_numpy().tolist() in ([["basil", "plum"]], [["plum", "basil"]])


def test_bottles_keep_a_whole_group(asked):
    assert set(bottles(asked, 4)) in map(set, CLIQUES)
    assert set(bottles(asked, 4, have=["mint"])) == set(CLIQUES[1])
    assert "salt" in bottles(asked, 5, have=["salt"])
    assert len(bottles(asked, 9)) == 9


def test_bottles_beat_random_and_equal_the_best_of_all_choices():
    asked = Questions(graph(random_model(12, seed=5, sure=0.3)))
    worth = {pair: asked.p[asked.index(pair[0]), asked.index(pair[1])] for pair in itertools.combinations(asked.ids, 2)}

    def kept(chosen):
        return sum(p for pair in itertools.combinations(sorted(chosen), 2) if (p := worth[pair]) >= LIKELY)

    best = max(kept(chosen) for chosen in itertools.combinations(asked.ids, 5))
    assert kept(bottles(asked, 5)) == pytest.approx(best, abs=0.05)


@pytest.mark.parametrize("n", [0, 10, -1])
def test_too_many_or_too_few_bottles_are_refused(asked, n):
    with pytest.raises(LogError) as refused:
        bottles(asked, n)
    assert "1 to 9" in refused.value.hint


def test_unknown_flavourings_are_refused_with_the_nearest(asked):
    for ask in (asked.partners, asked.stand_ins, lambda id_: asked.between(id_, "fig")):
        with pytest.raises(UnknownIdError) as unknown:
            ask("dat")
        assert "date" in unknown.value.hint
    with pytest.raises(LogError):
        asked.between("fig", "fig")
    with pytest.raises(LogError):
        Questions(nx.Graph())


def test_asking_changes_nothing(asked):
    before = nx.to_dict_of_dicts(asked.graph), nx.to_dict_of_dicts(asked.strong)
    asked.gaps(), asked.partners("fig"), asked.between("date", "mint"), groups(asked), bottles(asked, 3)
    assert (nx.to_dict_of_dicts(asked.graph), nx.to_dict_of_dicts(asked.strong)) == before


def test_a_graph_of_one_flavouring_answers():
    asked = Questions(graph(Invented(["fig"])))
    assert [len(table) for table in asked.partners("fig")] == [0, 0]
    assert asked.stand_ins("fig").empty
    assert asked.gaps().empty
    assert groups(asked) == []
    assert bottles(asked, 1) == ("fig",)


def test_nothing_sure_means_no_group():
    asked = Questions(graph(Invented("abcdef", sd=0.5)))
    assert not [e for *_, e in asked.graph.edges(data=True) if not 1 - SURE < e["p_positive"] < SURE]
    assert groups(asked) == []
    assert [len(table) for table in go_betweens(asked)] == [0, 0]


def test_the_work_of_an_answer_grows_with_the_flavourings_not_with_their_pairs():
    taken = []
    for n in (120, 240):
        asked = Questions(graph(random_model(n)))
        questions = {
            "partners": partial(asked.partners, "f003"),
            "between": partial(asked.between, "f003", "f055"),
            "stand-ins": partial(asked.stand_ins, "f003"),
            "gaps": asked.gaps,
            "bottles": partial(bottles, asked, 20),
            "groups": partial(groups, asked),
        }
        for ask in questions.values():
            ask()  # makes what the others use
        taken.append({name: steps(ask) for name, ask in questions.items()})
    for name, few in taken[0].items():
        assert taken[1][name] <= 2.2 * few, name
