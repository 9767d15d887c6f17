"""What the map draws: places, groups, and which flavourings and pairs are on it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import networkx as nx
import streamlit as st

from pairing.graph.groups import groups as found_in
from pairing.graph.queries import LIKELY, SURE, Questions
from pairing_dashboard.map_component import FAMILY_COLOURS
from pairing_dashboard.wording import joined

if TYPE_CHECKING:
    import networkx

    from pairing.learned import Learned

__all__ = ["EVIDENCE", "MOST", "SHAPES", "around", "drawing", "groups", "kept", "most", "places", "questions"]

Marks = list[dict[str, Any]]
MOST = 60
"""So many flavourings are drawn at once; the list has all of them."""
SHAPES = "●■◆"
"""Marks of families in the legend, as the map draws them."""
EVIDENCE = {
    "tried": "tried together",
    "likely": f"likely good ({LIKELY:.0%})",
    "sure": f"surely good ({SURE:.0%})",
    "clash": f"likely clash ({LIKELY:.0%})",
}


@st.cache_resource(show_spinner="Drawing the map …", max_entries=8)
def questions(path: str, key: str, base_id: str | None, _model: Learned) -> Questions:
    """Make the graph ready for questions, once for each state of the bench."""
    return Questions(_model.graph(base_id))


@st.cache_data(show_spinner=False, max_entries=8)
def groups(path: str, key: str, base_id: str | None, _asked: Questions) -> dict[str, tuple[str, ...]]:
    """Name the groups of two and more by their first members."""
    names = {i: _asked.graph.nodes[i]["name"] for i in _asked.ids}
    found = [members for members in found_in(_asked) if len(members) > 1]
    return {f"{joined(names[i] for i in m[:3])}{' …' if len(m) > 3 else ''}": m for m in found}


def kept(asked: Questions, families: list[str], group: tuple[str, ...] | None) -> Iterator[str]:
    """Go through the flavourings of some families and of one group."""
    for i in asked.ids if group is None else group:
        if not families or (asked.graph.nodes[i]["family"] or "no family") in families:
            yield i


def around(chosen: str, nodes: Marks, edges: Marks) -> tuple[Marks, Marks]:
    """Keep a flavouring, what goes with it, and the pairs among these."""
    near = {chosen} | {e["a"] if e["b"] == chosen else e["b"] for e in edges if chosen in (e["a"], e["b"])}
    return [n for n in nodes if n["id"] in near], [e for e in edges if {e["a"], e["b"]} <= near]


def most(nodes: Marks, edges: Marks, chosen: str | None) -> tuple[Marks, Marks]:
    """Keep as many flavourings as can be read: the chosen one, the most telling pairs, then what was tried."""
    if len(nodes) <= MOST:
        return nodes, edges
    rank = sorted(edges, key=lambda e: (chosen not in (e["a"], e["b"]), -abs(e["synergy"])))
    by_pairs = [i for e in rank for i in (e["a"], e["b"])]
    by_cups = [n["id"] for n in sorted(nodes, key=lambda n: -n["trials"]) if n["trials"] or not edges]
    drawn = set(list(dict.fromkeys([*([chosen] if chosen else []), *by_pairs, *by_cups]))[:MOST])
    return [n for n in nodes if n["id"] in drawn], [e for e in edges if {e["a"], e["b"]} <= drawn]


@st.cache_data(show_spinner=False, max_entries=8)
def places(path: str, key: str, base_id: str | None, _asked: Questions) -> dict[str, tuple[float, float]]:
    """Lay out what hangs together by its good pairs, the largest part first; what hangs on nothing has no place."""
    good: networkx.Graph[str] = nx.Graph()
    good.add_weighted_edges_from(
        (a, b, max(e["synergy"], 0.05)) for a, b, e in _asked.strong.edges(data=True) if e["p_positive"] >= 0.6
    )
    places: dict[str, tuple[float, float]] = {}
    left = 0.0
    for part in sorted(nx.connected_components(good), key=lambda p: (-len(p), min(p))):
        wide = len(part) ** 0.5
        drawn: networkx.Graph[str] = nx.Graph()
        drawn.add_nodes_from(sorted(part))  # a subgraph has them in the order of a set: another map in every process
        drawn.add_edges_from(good.edges(part, data=True))
        for node, (x, y) in nx.spring_layout(drawn, seed=22, k=1.6 / wide, iterations=80).items():
            places[node] = (left + float(x) * wide, float(y) * wide)
        left += 2.2 * wide
    return places


def drawing(
    graph: networkx.Graph[str], places: dict[str, tuple[float, float]], evidence: str, drawn: set[str]
) -> tuple[Marks, Marks]:
    """Describe the flavourings and the pairs that the evidence asked for lets through, strongest first."""
    counts = {
        "tried": lambda e: e["tested"],
        "likely": lambda e: e["p_positive"] >= LIKELY,
        "sure": lambda e: e["p_positive"] >= SURE,
        "clash": lambda e: e["p_positive"] <= 1 - LIKELY,
    }[evidence]
    known = sorted({f["family"] or "no family" for _, f in graph.nodes(data=True)})
    looks = {family: divmod(i, len(FAMILY_COLOURS)) for i, family in enumerate(known)}
    nodes = [
        {
            "id": node,
            "name": facts["name"],
            "family": facts["family"] or "no family",
            "color": FAMILY_COLOURS[looks[facts["family"] or "no family"][1]],
            "shape": looks[facts["family"] or "no family"][0] % len(SHAPES),
            "trials": int(facts["trials"]),
            "loose": node not in places,
            "x": places.get(node, (0.0, 0.0))[0],
            "y": places.get(node, (0.0, 0.0))[1],
        }
        for node, facts in graph.nodes(data=True)
        if node in drawn
    ]
    found = [(a, b, e) for a, b, e in graph.edges(data=True) if a in drawn and b in drawn and counts(e)]
    strongest = sorted(found, key=lambda row: -abs(row[2]["synergy"]))[: 3 * len(nodes)]
    edges = [
        {"a": a, "b": b, "synergy": round(e["synergy"], 2), "tested": e["tested"], "trials": e["trials"]}
        for a, b, e in strongest
    ]
    return nodes, edges
