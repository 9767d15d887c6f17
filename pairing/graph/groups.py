"""Groups of flavourings that go together, what links them, and which few bottles keep the most good pairs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd

from pairing.errors import LogError
from pairing.graph.queries import LIKELY, Questions

__all__ = ["bottles", "go_betweens", "groups", "likely"]


def likely(asked: Questions) -> nx.Graph[str]:
    """Take the strongest pairs that are at least likely good (probability 0.8)."""
    kept: nx.Graph[str] = nx.Graph()
    kept.add_nodes_from(asked.ids)
    kept.add_edges_from((a, b, e) for a, b, e in asked.strong.edges(data=True) if e["p_positive"] >= LIKELY)
    return kept


def groups(asked: Questions, random_state: int = 0) -> list[tuple[str, ...]]:
    r"""Find groups of flavourings with more likely good pairs inside than between, by the Louvain method.

    Parameters
    ----------
    asked : Questions
        The graph.
    random_state : int
        Seed; the same graph and seed give the same groups.

    Returns
    -------
    list of tuple of str
        Ids, sorted; the largest group first. A flavouring without a likely good pair is in none.

    Notes
    -----
    The pairs are those of `likely`, weighted by their synergy :math:`w_{ij} > 0` in liking points. The groups
    :math:`c_i` are of high modularity

    .. math:: Q = \frac{1}{2m} \sum_{ij} \left(w_{ij} - \frac{k_i k_j}{2m}\right) [c_i = c_j], \quad
              k_i = \sum_j w_{ij}, \quad 2m = \sum_i k_i,

    the share of synergy inside groups beyond that of a random graph with the same :math:`k_i`. Single flavourings move
    to the neighbouring group that raises :math:`Q` most until none does, groups become nodes, and it starts over.

    That is a heuristic: it ends in a local optimum, and another seed may end in another one. Modularity has a
    resolution limit: groups with less than about :math:`\sqrt{2m}` in inner synergy may be merged [2]_. A flavouring is
    in one group, though it may well go with several, and groups have no interval: a pair close to a probability of 0.8
    may move one. With few cups there are few likely pairs, and the groups say more of what was tried than of taste.

    References
    ----------
    .. [1] Blondel, Guillaume, Lambiotte & Lefebvre 2008, Fast unfolding of communities in large networks, J. Stat.
       Mech. P10008.
    .. [2] Fortunato & Barthélemy 2007, Resolution limit in community detection, PNAS 104:36.
    """
    if random_state not in asked.groups_found:
        asked.groups_found[random_state] = _groups(likely(asked), random_state)
    return list(asked.groups_found[random_state])


def _groups(pairs: nx.Graph[str], random_state: int) -> list[tuple[str, ...]]:
    pairs.remove_nodes_from([node for node, degree in pairs.degree() if degree == 0])
    if not pairs:
        return []
    found = nx.community.louvain_communities(pairs, weight="synergy", seed=random_state)
    return sorted((tuple(sorted(group)) for group in found), key=lambda group: (-len(group), group))


def go_betweens(asked: Questions, n: int = 10, random_state: int = 0) -> tuple[pd.DataFrame, pd.DataFrame]:
    r"""Find what links the groups: flavourings by their participation coefficient, and the pairs between groups.

    Parameters
    ----------
    asked : Questions
        The graph.
    n : int
        Most flavourings, and most pairs.
    random_state : int
        Seed of `groups`.

    Returns
    -------
    flavourings : DataFrame
        flavouring_id, name, group (its number in `groups`), spread (0: all its synergy lies in one group; towards 1:
        evenly over many), pairs (likely good ones).
    pairs : DataFrame
        flavouring_a, flavouring_b, group_a, group_b, synergy, sd, p_positive, tested; surest first.

    Notes
    -----
    The spread is :math:`1 - \sum_s (k_{is} / k_i)^2`, with :math:`k_{is}` the synergy of flavouring :math:`i` with
    group :math:`s` and :math:`k_i` that with all; for two groups it is at most ½, for three ⅔. It rests on the groups
    and on what they leave open. One pair in each of two groups spreads as evenly as ten: `pairs` says how many.

    References
    ----------
    Guimerà & Amaral 2005, Functional cartography of complex metabolic networks, Nature 433:895 (the spread).
    """
    pairs = likely(asked)
    group_of = {id_: k for k, group in enumerate(groups(asked, random_state)) for id_ in group}
    nodes = [_spread(asked, pairs, id_, group_of) for id_ in sorted(group_of)]
    nodes = sorted((row for row in nodes if row["spread"] > 0), key=lambda row: (-row["spread"], row["flavouring_id"]))
    edges = [
        {"flavouring_a": a, "flavouring_b": b, "group_a": group_of[a], "group_b": group_of[b], **e}
        for a, b, e in sorted(pairs.edges(data=True), key=lambda row: (-row[2]["p_positive"], row[0], row[1]))
        if group_of[a] != group_of[b]
    ]
    node_columns = ["flavouring_id", "name", "group", "spread", "pairs"]
    edge_columns = ["flavouring_a", "flavouring_b", "group_a", "group_b", "synergy", "sd", "p_positive", "tested"]
    return pd.DataFrame(nodes[:n], columns=node_columns), pd.DataFrame(edges[:n], columns=edge_columns)


def _spread(asked: Questions, pairs: nx.Graph[str], id_: str, group_of: dict[str, int]) -> dict[str, Any]:
    shares: dict[int, float] = {}
    for other, edge in pairs[id_].items():
        shares[group_of[other]] = shares.get(group_of[other], 0.0) + edge["synergy"]
    total = sum(shares.values())
    spread = 1 - sum((share / total) ** 2 for share in shares.values()) if len(shares) > 1 else 0.0
    name = asked.graph.nodes[id_]["name"]
    return {"flavouring_id": id_, "name": name, "group": group_of[id_], "spread": spread, "pairs": len(pairs[id_])}


def bottles(asked: Questions, n: int, have: Iterable[str] = ()) -> tuple[str, ...]:
    r"""Choose the n flavourings that keep the most good pairs among them: which bottles to buy.

    Flavourings whose food use is unknown are chosen only where they are there already.

    Parameters
    ----------
    asked : Questions
        The graph.
    n : int
        How many in all.
    have : iterable of str
        Flavourings that stay in any case and count among the `n`.

    Returns
    -------
    tuple of str
        Ids, sorted.

    Raises
    ------
    LogError
        If `n` is below 1, below what is there already or above what there is.

    Notes
    -----
    Looked for is the set :math:`S` of :math:`n` with the largest :math:`\sum_{i<j \in S} v_{ij}`, where :math:`v` is
    the probability that a pair is good where that is at least 0.8, and a fiftieth of it below; ties go to the better
    liked flavouring. That is the densest subgraph of a given size, NP-hard: the best are added one by one, then
    one is exchanged for another while the sum rises. So it is a local optimum, which no single exchange betters.
    """
    kept = [asked.index(id_) for id_ in dict.fromkeys(have)]
    open_ = asked.usable.copy()
    open_[kept] = True
    least, most = max(1, len(kept)), int(open_.sum())
    if not least <= n <= most:
        raise LogError(f"{n} bottles, {len(kept)} of them already there", f"ask for {least} to {most}")
    worth = np.where(asked.p >= LIKELY, asked.p, 0.02 * asked.p)
    np.fill_diagonal(worth, 0.0)
    points = np.array([asked.graph.nodes[id_]["points"] or 0.0 for id_ in asked.ids], dtype=float)
    liked = 1e-4 * np.argsort(np.argsort(points, kind="stable")) / len(points)
    chosen = np.zeros(len(points), dtype=bool)
    chosen[kept] = True
    while chosen.sum() < n:
        gain = worth @ chosen + 0.5 * worth.sum(axis=1) / len(points) + liked
        chosen[int(np.argmax(np.where(chosen | ~open_, -np.inf, gain)))] = True
    _exchange(chosen, open_, worth, liked, kept)
    return tuple(asked.ids[i] for i in np.flatnonzero(chosen))


def _exchange(chosen: np.ndarray, open_: np.ndarray, worth: np.ndarray, liked: np.ndarray, kept: list[int]) -> None:
    """Swap one bottle for another while the sum of good pairs rises."""
    fixed = np.zeros_like(chosen)
    fixed[kept] = True
    for _ in range(10 * len(chosen)):
        value = worth @ chosen + liked
        out, into = np.flatnonzero(chosen & ~fixed), np.flatnonzero(~chosen & open_)
        if not len(out) or not len(into):
            return
        change = value[into][None, :] - worth[np.ix_(out, into)] - value[out][:, None]
        best = np.unravel_index(np.argmax(change), change.shape)
        if change[best] <= 1e-12:
            return
        chosen[out[best[0]]], chosen[into[best[1]]] = False, True
