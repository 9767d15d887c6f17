"""Places for nodes and their labels, such that no label lies on another or on another node."""

from __future__ import annotations

from collections.abc import Mapping

import networkx as nx
import numpy as np

__all__ = ["places"]

EDGE_PX = 120.0  # usual length of an edge
GAP_PX = 8.0  # air between boxes
WIDTH_PX = 900.0  # where a row of small parts ends, unless the largest part is wider


def places(graph: nx.Graph[str], boxes: Mapping[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    """Place every node; the same graph gives the same places.

    The largest connected part comes first, smaller ones in rows below it.

    Parameters
    ----------
    graph : nx.Graph[str]
        Nodes and the edges to draw.
    boxes : mapping of node to (width, height)
        Room that a node and its label take, px; the node's place is the middle of it.

    Returns
    -------
    dict of node to (x, y)
        px, from the upper left; no two boxes overlap.
    """
    parts = sorted((sorted(part) for part in nx.connected_components(graph)), key=lambda part: (-len(part), part))
    placed: dict[str, tuple[float, float]] = {}
    left = top = row = 0.0
    page = WIDTH_PX
    for part in parts:
        sizes = np.array([boxes[node] for node in part])
        at = _apart(_drawn(graph.subgraph(part), part), sizes + GAP_PX)
        low, high = (at - sizes / 2).min(axis=0), (at + sizes / 2).max(axis=0)
        width, height = high - low
        page = max(page, width)
        if left and left + width > page:
            left, top, row = 0.0, top + row + 3 * GAP_PX, 0.0
        for node, (x, y) in zip(part, at - low + (left, top), strict=True):
            placed[node] = (float(x), float(y))
        left, row = left + width + 3 * GAP_PX, max(row, height)
    return placed


def _drawn(graph: nx.Graph[str], part: list[str]) -> np.ndarray:
    """Draw one connected part so that distances on paper follow steps in the graph."""
    if len(part) == 1:
        return np.zeros((1, 2))
    ordered: nx.Graph[str] = nx.Graph()  # the layout depends on the order of nodes
    ordered.add_nodes_from(part)
    ordered.add_edges_from(sorted((min(edge), max(edge)) for edge in graph.edges()))
    few = len(part) <= 150
    found = nx.kamada_kawai_layout(ordered) if few else nx.spring_layout(ordered, seed=0, iterations=100)
    at = np.array([found[node] for node in part])
    index = {node: i for i, node in enumerate(part)}
    ends = np.array([(index[a], index[b]) for a, b in ordered.edges()])
    length = np.linalg.norm(at[ends[:, 0]] - at[ends[:, 1]], axis=1).mean()
    return np.asarray(at * (EDGE_PX / max(length, 1e-9)) * (1.25, 0.8))  # labels are wide and low


def _apart(at: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    """Push boxes apart, each pair along the axis on which it overlaps least, and spread all where that does not do."""
    at = at + 1e-3 * np.arange(len(at))[:, None] * (1.0, -0.7)  # nothing lies exactly on anything
    need = (sizes[:, None] + sizes[None, :]) / 2
    for turn in range(2000):
        apart = at[:, None] - at[None, :]
        over = need - np.abs(apart)
        both = (over > 1e-6).all(axis=2) & ~np.eye(len(at), dtype=bool)
        if not both.any():
            return at
        axis = np.argmin(over, axis=2)[..., None] == np.arange(2)
        push = np.where(both[..., None] & axis, np.sign(apart) * (over + 0.01) / 2, 0.0)
        at = at + push.sum(axis=1) / np.maximum(both.sum(axis=1), 1)[:, None]
        if turn % 50 == 49:
            at = at * 1.1
    raise AssertionError("boxes that do not come apart")  # spreading by 1.1 forty times parts anything finite
