"""The picture: every label apart, readable, safe, and the same each time."""

import itertools
import re

import networkx as nx
import pytest
from defusedxml import ElementTree
from invented_graph import Invented, random_model

from pairing.errors import LogError
from pairing.graph.build import difference, graph
from pairing.graph.layout import places
from pairing.graph.picture import picture

SVG = "{http://www.w3.org/2000/svg}"


def overlaps(boxes, at):
    return [
        (a, b)
        for a, b in itertools.combinations(at, 2)
        if all(abs(at[a][k] - at[b][k]) < (boxes[a][k] + boxes[b][k]) / 2 - 1e-6 for k in (0, 1))
    ]


@pytest.mark.parametrize("make", [lambda: nx.gnm_random_graph(60, 110, seed=1), lambda: nx.complete_graph(60)])
def test_no_two_boxes_overlap(make):
    made = nx.relabel_nodes(make(), str)
    boxes = {node: (60 + 9 * (int(node) % 10), 34 + 16 * (int(node) % 2)) for node in made}
    at = places(made, boxes)
    assert not overlaps(boxes, at)
    assert places(made, boxes) == at


def test_order_of_nodes_and_edges_does_not_move_anything():
    made = nx.relabel_nodes(nx.gnm_random_graph(20, 30, seed=2), str)
    turned = nx.Graph()
    turned.add_nodes_from(reversed(list(made)))
    turned.add_edges_from((b, a) for a, b in reversed(list(made.edges)))
    boxes = dict.fromkeys(made, (70.0, 40.0))
    assert places(made, boxes) == places(turned, boxes)


def labels(root):
    """Boxes of the label lines, from their anchor, font size and length."""
    rows = []
    for span in root.iter(f"{SVG}tspan"):
        width = 7.2 * len(span.text)
        x, y = float(span.get("x")), float(span.get("y"))
        rows.append((x - width / 2, x + width / 2, y - 11, y + 3))
    return rows


def test_sixty_labels_are_apart_and_inside_the_page():
    root = ElementTree.fromstring(picture(graph(random_model(60, sure=0.06, seed=4))))
    found = labels(root)
    assert len(found) == 60
    for one, two in itertools.combinations(found, 2):
        assert one[1] <= two[0] or two[1] <= one[0] or one[3] <= two[2] or two[3] <= one[2]
    assert all(left >= 0 and right <= float(root.get("width")) for left, right, *_ in found)
    assert all(bottom <= float(root.get("height")) for *_, bottom in found)


def test_what_is_drawn():
    model = Invented(
        ["date", "fig", "mint", "plum"],
        synergy={("date", "fig"): 2.0, ("fig", "mint"): 1.5, ("date", "plum"): -2.0},
        tried={("date", "fig"): 4, ("date", "plum"): 4},
        alone=dict.fromkeys(["date", "fig", "mint", "plum"], 1),
    )
    root = ElementTree.fromstring(picture(graph(model)))
    lines = {path.find(f"{SVG}title").text: path for path in root.iter(f"{SVG}path")}
    assert [text.split(":")[0] for text in lines] == ["Date + Fig", "Fig + Mint"]
    tried, predicted = lines.values()
    assert tried.get("stroke-dasharray") is None
    assert predicted.get("stroke-dasharray")
    assert float(tried.get("stroke-width")) > float(predicted.get("stroke-width"))
    assert float(tried.get("stroke-opacity")) >= float(predicted.get("stroke-opacity"))
    assert picture(graph(model), clashes=True).count('class="edge clash"') == 1


def test_names_are_safe_and_long_ones_are_cut():
    made = graph(Invented(["a", "b", "c", "d"]))
    for node, name in zip("abcd", ("<script>", "b&\"'", "c\x07", "drops " * 30), strict=True):
        made.nodes[node]["name"] = name
    text = picture(made)
    root = ElementTree.fromstring(text)
    assert "<script" not in text
    assert max(len(span.text) for span in root.iter(f"{SVG}tspan")) <= 22
    assert "…" in text


def test_light_and_dark_and_no_request_leaves_the_page():
    text = picture(graph(random_model(8, sure=0.5)))
    assert "prefers-color-scheme:dark" in text
    assert "currentColor" in text
    assert set(re.findall(r"https?://[^\"]+", text)) == {"http://www.w3.org/2000/svg"}


def test_same_graph_same_picture():
    assert picture(graph(random_model(30, seed=2))) == picture(graph(random_model(30, seed=2)))


def test_nothing_likely_is_said():
    text = picture(graph(Invented("abc")))
    assert "log more cups with two flavourings" in text
    assert "<path" not in text


def test_a_difference_shows_both_ways():
    model = Invented("ab", in_base={("oat", ("a", "b")): 2, ("whey", ("a", "b")): -2}, tried={("a", "b"): 9})
    assert "better in oat" in picture(difference(model, "oat", "whey"))
    assert 'class="edge clash"' in picture(difference(model, "whey", "oat"))


def test_bases_are_squares():
    root = ElementTree.fromstring(picture(graph(Invented("abcdefghijk"), bases=True)))
    assert len([rect for rect in root.iter(f"{SVG}rect") if rect.get("class") == "node"]) == 2


def test_too_few_to_draw_is_refused():
    with pytest.raises(LogError):
        picture(graph(Invented("ab")), most=0)
    assert len(list(ElementTree.fromstring(picture(graph(random_model(30)), most=5)).iter(f"{SVG}circle"))) == 5
