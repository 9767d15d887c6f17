"""Which flavourings and pairs are on the map."""

from types import SimpleNamespace

import networkx as nx

from pairing_dashboard.map_about import begins_with
from pairing_dashboard.map_drawing import MOST, around, most, places


def marks(n):
    nodes = [{"id": f"f{i}", "trials": i} for i in range(n)]
    edges = [{"a": f"f{i}", "b": f"f{i + 1}", "synergy": (-1) ** i * i / n} for i in range(n - 1)]
    return nodes, edges


def ids(nodes):
    return {n["id"] for n in nodes}


def test_a_small_shelf_is_drawn_whole():
    assert most(*marks(MOST), None) == marks(MOST)


def test_of_a_large_shelf_the_most_telling_pairs_are_drawn():
    nodes, edges = most(*marks(500), None)
    assert len(nodes) == MOST
    assert {"f499", "f498"} <= ids(nodes)
    assert all({e["a"], e["b"]} <= ids(nodes) for e in edges)


def test_the_chosen_one_and_its_pairs_are_always_drawn():
    nodes, _ = most(*marks(500), "f3")
    assert {"f2", "f3", "f4"} <= ids(nodes)
    assert len(nodes) == MOST


def test_around_one_are_its_pairs_and_what_is_between_them():
    nodes, edges = marks(5)
    edges.append({"a": "f1", "b": "f3", "synergy": 1.0})
    near, pairs = around("f2", nodes, edges)
    assert ids(near) == {"f1", "f2", "f3"}
    assert len(pairs) == 3


def test_where_no_pair_is_likely_the_map_begins_with_what_was_tried():
    asked = SimpleNamespace(graph=nx.Graph())
    asked.graph.add_edge("plum", "mint", p_positive=0.7)
    assert begins_with(asked) == "tried"
    asked.graph.add_edge("plum", "oak", p_positive=0.8)
    assert begins_with(asked) == "likely"


def test_the_map_is_laid_out_alike_in_every_process(monkeypatch):
    laid = []
    monkeypatch.setattr(
        nx, "spring_layout", lambda graph, **_: laid.append(list(graph)) or dict.fromkeys(graph, (0, 0))
    )
    strong = nx.Graph()
    nx.add_path(strong, [f"f{i}" for i in range(40)], synergy=0.5, p_positive=0.9)
    places.__wrapped__("", "", None, SimpleNamespace(strong=strong))
    assert laid == [sorted(strong)]  # not the order of a set, which is another in every process
