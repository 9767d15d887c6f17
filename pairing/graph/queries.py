"""Questions to the pairing graph, answered from a structure that is made once."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from functools import cached_property
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd
from scipy.sparse import csr_array
from scipy.special import ndtr

from pairing.errors import LogError
from pairing.model.called import meant
from pairing.model.constants import Z80

__all__ = ["LIKELY", "SURE", "Questions", "verdict"]

SURE = 0.99  # probability from which a pair counts as sure: hundreds of pairs are judged at once (our choice)
LIKELY = 0.8  # and from which it is likely (our choice)


def verdict(p_positive: float) -> str:
    """Put the probability of a good pair into words.

    Examples
    --------
    >>> [verdict(p) for p in (0.995, 0.9, 0.5, 0.1, 0.001)]
    ['sure', 'likely', 'open', 'likely clash', 'sure clash']
    """
    word = "sure" if max(p_positive, 1 - p_positive) >= SURE else "likely"
    if 1 - LIKELY < p_positive < LIKELY:
        return "open"
    return word if p_positive > 0.5 else f"{word} clash"


class Questions:
    """The pairing graph, ready for questions.

    Parameters
    ----------
    graph : nx.Graph[str]
        From `pairing.graph.build.graph`; nodes of bases are left aside.
    strongest : int
        How many of each flavouring's best edges paths and groups are looked for in.

    Attributes
    ----------
    ids : tuple of str
        The flavourings, sorted.
    usable : bool array
        Which of them may be suggested: declared for food use, and no poison by what is written about them.
    groups_found : dict
        What `pairing.graph.groups.groups` found, by seed: found once.
    strong : nx.Graph[str]
        Every flavouring with its strongest edges, those more likely good than not.
    """

    def __init__(self, graph: nx.Graph[str], strongest: int = 12) -> None:
        self.graph = graph
        self.ids = tuple(sorted(node for node, facts in graph.nodes(data=True) if facts["kind"] == "flavouring"))
        if not self.ids:
            raise LogError("the graph has no flavouring", "load flavourings and log a few cups first")
        self._at = {id_: i for i, id_ in enumerate(self.ids)}
        self.usable = np.array([bool(graph.nodes[id_]["suggestable"]) for id_ in self.ids])
        n = len(self.ids)
        self._offered = self.usable[:, None] & self.usable[None, :]
        self.synergy, self.sd, self.p = np.zeros((n, n)), np.zeros((n, n)), np.full((n, n), 0.5)
        self._untried = np.zeros((n, n), dtype=bool)
        pairs = [(a, b, e) for a, b, e in graph.edges(data=True) if e["kind"] == "pair"]
        if pairs:
            i, j = np.array([(self._at[a], self._at[b]) for a, b, _ in pairs]).T
            fields = ("synergy", "sd", "p_positive")
            values = np.array([[e[name] for name in fields] for _, _, e in pairs], dtype=float)
            for kept, value in zip((self.synergy, self.sd, self.p), values.T, strict=True):
                kept[i, j] = kept[j, i] = value
            tried = np.zeros((n, n))
            tried[i, j] = tried[j, i] = [e["tested"] for _, _, e in pairs]
            self._offered |= tried > 0
            self._untried[np.minimum(i, j), np.maximum(i, j)] = True
            self._untried &= ~self._with_versions(tried)
        np.fill_diagonal(self.p, 0.0)
        self.low = self.synergy - Z80 * self.sd
        self.strong = self._strongest(strongest)
        self.groups_found: dict[int, list[tuple[str, ...]]] = {}

    def _with_versions(self, tried: np.ndarray) -> np.ndarray:
        """Count as tried what was tried with that of which one is a version, and versions of one flavouring."""
        places = [(i, j) for i, id_ in enumerate(self.ids) for j in self._lineage(id_)]
        own = csr_array((np.ones(len(places)), np.array(places).T), shape=tried.shape)
        return np.asarray(own @ (own @ tried).T + (own @ own.T).toarray() > 0)

    def _lineage(self, id_: str) -> list[int]:
        """Places of a flavouring and of those of which it is a version or a dilution."""
        found: list[int] = []
        at: str | None = id_
        while at in self._at and self._at[at] not in found:
            found.append(self._at[at])
            at = self.graph.nodes[at].get("version_of")
        return found

    def _strongest(self, k: int) -> nx.Graph[str]:
        strong: nx.Graph[str] = nx.Graph()
        strong.add_nodes_from(self.ids)
        rank = np.where((self.p > 0.5) & self._offered, self.low, -np.inf)
        best = np.argsort(-rank, axis=1, kind="stable")[:, :k]
        for i, j in zip(*np.nonzero(np.isfinite(np.take_along_axis(rank, best, axis=1))), strict=True):
            a, b = self.ids[i], self.ids[best[i, j]]
            facts = self.graph.edges[a, b]
            strong.add_edge(a, b, **facts)
        return strong

    @cached_property
    def importance(self) -> np.ndarray:
        """How central each flavouring is among likely good pairs, 1 on average.

        References
        ----------
        Page, Brin, Motwani & Winograd 1999, The PageRank citation ranking, Stanford InfoLab.
        """
        ranks = nx.pagerank(self.strong, weight="synergy")
        return np.array([ranks[id_] for id_ in self.ids]) * len(self.ids)

    def partners(self, flavouring_id: str, n: int = 10) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Best partners of a flavouring, tested and predicted apart.

        What may not be suggested is no predicted partner. Both are ranked by the lower end of the synergy's 80 %
        interval, so that a partner comes first for being good surely, not for being unknown.

        Returns
        -------
        tested, predicted : DataFrame
            partner, name, synergy, sd, low, high (80 %, liking points), p_positive, trials, bases, note.
        """
        i = self.index(flavouring_id)
        order = [j for j in np.argsort(-self.low[i], kind="stable") if j != i]
        rows = [self._pair(i, j) for j in order if self.graph.has_edge(self.ids[i], self.ids[j])]
        tested = [row for row in rows if row["tested"]]
        predicted = [row for row in rows if not row["tested"] and self.usable[self.index(row["partner"])]]
        columns = ("partner", "name", "synergy", "sd", "low", "high", "p_positive", "trials", "bases", "note")
        return _frame(tested[:n], columns), _frame(predicted[:n], columns)

    def between(self, flavouring_a: str, flavouring_b: str, n: int = 5, most: int = 2) -> pd.DataFrame:
        """Find what would bring two flavourings together: ways over partners that they share.

        Parameters
        ----------
        most : int
            Longest way: how many flavourings may stand between.

        Returns
        -------
        DataFrame
            through (ids), names, probability (that every pair on the way is good, as if independent), weakest (the pair
            with the least probability), p_weakest, tested (all pairs on the way were); best first. Empty when there
            is no such way.
        """
        a, b = self.ids[self.index(flavouring_a)], self.ids[self.index(flavouring_b)]
        if a == b:
            raise LogError(f"both flavourings are {a!r}", "name two different flavourings")
        columns = ("through", "names", "probability", "weakest", "p_weakest", "tested")
        direct = [(a, b)] if self.strong.has_edge(a, b) else []
        ways = nx.restricted_view(self.strong, [], direct)
        found = [self._way(path) for path in nx.all_simple_paths(ways, a, b, cutoff=most + 1)]
        return _frame(sorted(found, key=lambda way: (-way["probability"], way["through"]))[:n], columns)

    def _way(self, path: list[str]) -> dict[str, Any]:
        steps = [(self.strong.edges[pair]["p_positive"], pair) for pair in itertools.pairwise(path)]
        return {
            "through": tuple(path[1:-1]),
            "names": tuple(self._name(id_) for id_ in path[1:-1]),
            "probability": math.prod(p for p, _ in steps),
            "weakest": min(steps)[1],
            "p_weakest": min(steps)[0],
            "tested": all(self.strong.edges[pair]["tested"] for _, pair in steps),
        }

    def stand_ins(self, flavouring_id: str, n: int = 5, among: Iterable[str] | None = None) -> pd.DataFrame:
        """Find what can stand in for a flavouring: who goes, and clashes, with the same partners.

        One whose food use is unknown, or that has nothing in common, is left out.

        Parameters
        ----------
        among : iterable of str, optional
            Only these may stand in: what is on hand, or what is free of an allergen.

        Returns
        -------
        DataFrame
            stand_in, name, family, similarity (cosine of the two lists of synergies, each beyond the average pair's and
            in its own standard deviations; 1 is the same partners, 0 nothing in common), shared (likely partners of
            both), points, note.
        """
        i = self.index(flavouring_id)
        allowed = range(len(self.ids)) if among is None else sorted({self.index(id_) for id_ in among})
        beyond = self.synergy - self.synergy.sum() / max(len(self.ids) * (len(self.ids) - 1), 1)
        known = np.clip(beyond / np.where(self.sd > 0, self.sd, np.inf), -3, 3)
        rows = []
        for j in (j for j in allowed if j != i and self.usable[j]):
            others = np.ones(len(self.ids), dtype=bool)
            others[[i, j]] = False
            mine, theirs = known[i, others], known[j, others]
            length = np.linalg.norm(mine) * np.linalg.norm(theirs)
            rows.append((float(mine @ theirs / length) if length > 0 else 0.0, j))
        best = sorted((row for row in rows if row[0] > 0), key=lambda row: (-row[0], row[1]))[:n]
        columns = ("stand_in", "name", "family", "similarity", "shared", "points", "note")
        return _frame([self._stand_in(i, j, similarity) for similarity, j in best], columns)

    def _stand_in(self, i: int, j: int, similarity: float) -> dict[str, Any]:
        shared = np.flatnonzero(np.minimum(self.p[i], self.p[j]) >= LIKELY)
        facts = self.graph.nodes[self.ids[j]]
        edge = self.graph.get_edge_data(self.ids[i], self.ids[j]) or {}
        return {
            "stand_in": self.ids[j],
            "name": facts["name"],
            "family": facts["family"],
            "similarity": similarity,
            "shared": tuple(self.ids[k] for k in shared),
            "points": facts["points"],
            "note": edge.get("note", "") if edge.get("inseparable") else "",
        }

    def gaps(self, n: int = 10) -> pd.DataFrame:
        """Find pairs that nobody has tried and that are worth trying: promising, uncertain and central.

        Ranked by the expected gain over no synergy, E[max(synergy, 0)], times the square root of how central the two
        flavourings are. Flavourings whose food use is unknown are left out, and so are pairs of versions of one
        flavouring, and those tried with what one of the two is a version or dilution of.

        Returns
        -------
        DataFrame
            flavouring_a, flavouring_b, name_a, name_b, synergy, sd, p_positive, gain (liking points), central.

        References
        ----------
        Jones, Schonlau & Welch 1998, Efficient global optimization, J. Global Optim. 13:455 (the expected gain).
        """
        untried = self._untried & self.usable[:, None] & self.usable[None, :]
        sd = np.maximum(self.sd, 1e-9)
        z = self.synergy / sd
        gain = self.synergy * ndtr(z) + sd * np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
        central = np.sqrt(np.outer(self.importance, self.importance))
        worth = np.where(untried, gain * np.sqrt(central), -np.inf)
        best = np.argsort(-worth, axis=None, kind="stable")[:n]
        places = [(i, j) for i, j in zip(*np.unravel_index(best, worth.shape), strict=True) if untried[i, j]]
        columns = ("flavouring_a", "flavouring_b", "name_a", "name_b", "synergy", "sd", "p_positive", "gain", "central")
        return _frame([self._gap(i, j, gain[i, j], central[i, j]) for i, j in places], columns)

    def _gap(self, i: int, j: int, gain: float, central: float) -> dict[str, Any]:
        a, b = self.ids[i], self.ids[j]
        edge = self.graph.edges[a, b]
        names = {"flavouring_a": a, "flavouring_b": b, "name_a": self._name(a), "name_b": self._name(b)}
        return {**names, **edge, "gain": float(gain), "central": float(central)}

    def _pair(self, i: int, j: int) -> dict[str, Any]:
        edge = self.graph.edges[self.ids[i], self.ids[j]]
        low, high = edge["synergy"] - Z80 * edge["sd"], edge["synergy"] + Z80 * edge["sd"]
        name = self._name(self.ids[j])
        return {"note": "", **edge, "partner": self.ids[j], "name": name, "low": low, "high": high}

    def _name(self, id_: str) -> str:
        return str(self.graph.nodes[id_]["name"])

    def index(self, flavouring_id: str) -> int:
        """Place of a flavouring in `ids`, or an error with the nearest names."""
        if flavouring_id not in self._at:
            flavouring_id = meant(flavouring_id, {id_: self._name(id_) for id_ in self.ids}, "flavouring")
        return self._at[flavouring_id]


def _frame(rows: list[dict[str, Any]], columns: tuple[str, ...]) -> pd.DataFrame:
    return pd.DataFrame({name: [row[name] for row in rows] for name in columns}, columns=list(columns))
