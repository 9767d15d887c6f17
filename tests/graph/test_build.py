"""The graph made from what was learned."""

import numpy as np
import pytest
from invented_graph import Invented
from scipy.stats import norm

from pairing.errors import LogError, UnknownIdError
from pairing.graph.build import base_node, difference, graph


@pytest.fixture
def model():
    return Invented(
        ["date", "fig", "mint", "plum"],
        synergy={("date", "fig"): 1.0},
        tried={("date", "fig"): 4, ("fig", "mint"): 2},
        alone={"date": 3, "fig": 1, "mint": 0, "plum": 0},
        in_base={("oat", ("date", "fig")): 2.0, ("whey", ("date", "fig")): -1.0},
    )


def test_every_pair_is_an_edge_with_all_that_is_promised(model):
    made = graph(model)
    assert made.number_of_edges() == 6
    edge = made.edges["date", "fig"]
    assert edge.items() >= {"synergy": 1.0, "trials": 4, "tested": True, "bases": ("oat",), "kind": "pair"}.items()
    assert edge["sd"] == pytest.approx(0.5 / 5**0.5)
    assert edge["p_positive"] == pytest.approx(norm.cdf(1.0 / edge["sd"]))
    assert made.edges["date", "plum"]["tested"] is False
    assert made.edges["date", "plum"]["bases"] == ()
    assert made.nodes["fig"] == {
        "kind": "flavouring",
        "name": "Fig",
        "family": "f",
        "points": pytest.approx(1 / 3),
        "trials": 7,
        "suggestable": True,
    }


def test_values_are_plain_python(model):
    made = graph(model, bases=True)
    facts = [f for _, f in made.nodes(data=True)] + [f for _, _, f in made.edges(data=True)]
    assert not [value for f in facts for value in f.values() if isinstance(value, np.generic)]


def test_in_one_base(model):
    made = graph(model, base_id="whey")
    assert made.edges["date", "fig"]["synergy"] == -1.0
    assert made.graph["base_id"] == "whey"


def test_bases_on_request(model):
    assert base_node("oat") not in graph(model)
    made = graph(model, bases=True)
    assert made.nodes[base_node("oat")] == {"kind": "base", "name": "Oat", "base_id": "oat"}
    assert made.edges[base_node("oat"), "plum"].keys() == {"kind", "affinity", "sd", "p_positive", "trials", "tested"}
    assert made.edges[base_node("oat"), "date"]["tested"] is False
    only = graph(model, base_id="oat", bases=True)
    assert base_node("whey") not in only
    assert base_node("oat") in only


def test_always_together_cannot_be_told_apart():
    model = Invented(["a", "b", "c"], tried={("a", "b"): 3, ("b", "c"): 0}, synergy={("a", "b"): 1})
    edge = graph(model).edges["a", "b"]
    assert edge["inseparable"] is True
    assert "cannot be told apart" in edge["note"]
    assert "inseparable" not in graph(model).edges["b", "c"]


def test_never_without_the_other_is_said_of_the_right_one(model):
    edge = graph(model).edges["fig", "mint"]
    assert "inseparable" not in edge
    assert edge["note"].startswith("mint was never judged without fig")


def test_tried_apart_needs_no_note(model):
    assert "note" not in graph(model).edges["date", "fig"]


def test_what_differs_between_two_bases(model):
    made = difference(model, "oat", "whey")
    edge = made.edges["date", "fig"]
    assert (edge["synergy_a"], edge["synergy_b"], edge["difference"]) == (2.0, -1.0, 3.0)
    assert edge["p_positive"] > 0.99
    assert difference(model, "whey", "oat").edges["date", "fig"]["difference"] == -3.0
    assert made.edges["date", "plum"]["p_positive"] == 0.5


def test_bad_questions_are_refused(model):
    with pytest.raises(UnknownIdError) as unknown:
        graph(model, base_id="oats")
    assert "oat" in unknown.value.hint
    with pytest.raises(LogError):
        difference(model, "oat", "oat")
    with pytest.raises(UnknownIdError):
        difference(model, "oat", "tea")
