"""The pairing graph made from what was learned: flavourings as nodes, every pair of them as an edge."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import networkx as nx

from pairing.errors import LogError
from pairing.nutrition.names import may_be_suggested

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["GraphSource", "base_node", "difference", "graph"]

ALWAYS_TOGETHER = (
    "always judged together: what is due to one of them, to the other or to the pair cannot be told apart; "
    "taste each alone"
)
NEVER_WITHOUT = "{0} was never judged without {1}: its own liking and the pair's cannot be told apart; taste {0} alone"


class GraphSource(Protocol):
    """What the graph asks of a learned model."""

    @property
    def shelf(self) -> Shelf:
        """What is known of bases and flavourings."""

    def synergy(self, base_id: str | None = None, beside: str | None = None) -> pd.DataFrame:
        """All pairs: flavouring_a, flavouring_b, synergy, sd, p_positive, trials, liked, tested, bases.

        With ``beside``, another base: the synergy in the one minus that in the other, with the sd of that.
        """

    def singles(self, base_id: str | None = None) -> pd.DataFrame:
        """All flavourings: flavouring_id, points, sd, trials, and liked: those of them with a liking."""

    def affinity(self) -> pd.DataFrame:
        """Every base with every flavouring: base_id, flavouring_id, affinity, sd, p_positive, trials."""


def graph(model: GraphSource, base_id: str | None = None, bases: bool = False) -> nx.Graph[str]:
    """Make the pairing graph.

    Parameters
    ----------
    model : Learned
        What was learned from the log.
    base_id : str, optional
        The base in which pairs are judged; None is the mean over the bases.
    bases : bool
        Add a node for every base (or for `base_id` alone) and an edge from it to every flavouring: its affinity.

    Returns
    -------
    networkx.Graph
        Nodes carry ``kind`` (flavouring or base), ``name, family``, ``points`` (liking points beyond the plain base)
        and ``trials``, where there is one also ``version_of``. Edges between flavourings carry ``kind`` (pair),
        ``synergy`` and its ``sd`` in liking points,
        ``p_positive`` (the probability that the synergy is above zero), ``trials``, ``tested`` and ``bases`` (ids in
        which the pair was tried); where the log cannot tell a pair from its parts also ``inseparable`` (true) and
        ``note``. Edges of a base carry ``kind`` (affinity), ``affinity, sd, p_positive, trials, tested``. On a shelf of
        more than a thousand flavourings, pairs of those that were hardly ever logged are left out: the graph's
        ``pairs_left_out`` says how many.

    Raises
    ------
    UnknownIdError
        If `base_id` is not known.
    """
    if base_id is not None:
        base_id = model.shelf.base(base_id).base_id
    made: nx.Graph[str] = nx.Graph(base_id=base_id)
    liked = _add_flavourings(made, model, base_id)
    table = model.synergy(base_id)
    names = ("flavouring_a", "flavouring_b", "synergy", "sd", "p_positive", "trials", "liked", "tested", "bases")
    columns = [table[name].tolist() for name in names]
    made.add_edges_from(
        (
            a,
            b,
            {
                "kind": "pair",
                "synergy": synergy,
                "sd": sd,
                "p_positive": p,
                "trials": int(n),
                "tested": bool(tested),
                "bases": tuple(where),
                **(_inseparable(a, b, together, liked) if together else {}),
            },
        )
        for a, b, synergy, sd, p, n, together, tested, where in zip(*columns, strict=True)
    )
    if left_out := len(liked) * (len(liked) - 1) // 2 - len(table):
        made.graph["pairs_left_out"] = left_out
    if bases:
        _add_bases(made, model, base_id)
    return made


def difference(model: GraphSource, base_a: str, base_b: str) -> nx.Graph[str]:
    """Say which pairs work in one base and not in another.

    Returns
    -------
    networkx.Graph
        Nodes as in `graph`; edges carry ``difference`` (synergy in `base_a` minus synergy in `base_b`, liking points),
        its ``sd`` (what holds in every base cancels), ``p_positive`` (that the difference is above zero),
        ``synergy_a, synergy_b, tested_a, tested_b``.

    Raises
    ------
    LogError
        If both are the same base.
    UnknownIdError
        If a base is not known.
    """
    base_a, base_b = (model.shelf.base(one).base_id for one in (base_a, base_b))
    if base_a == base_b:
        raise LogError(f"both bases are {base_a!r}", "name two different bases")
    made: nx.Graph[str] = nx.Graph(base_a=base_a, base_b=base_b)
    _add_flavourings(made, model, None)
    apart, here, there = model.synergy(base_a, beside=base_b), model.synergy(base_a), model.synergy(base_b)
    columns = {
        "difference": apart["synergy"],
        "sd": apart["sd"],
        "p_positive": apart["p_positive"],
        "synergy_a": here["synergy"],
        "synergy_b": there["synergy"],
        "tested_a": here["tested"].astype(bool),
        "tested_b": there["tested"].astype(bool),
    }
    values = zip(*(column.tolist() for column in columns.values()), strict=True)
    ends = zip(apart["flavouring_a"], apart["flavouring_b"], values, strict=True)
    made.add_edges_from((a, b, dict(zip(columns, row, strict=True))) for a, b, row in ends)
    return made


def base_node(base_id: str) -> str:
    """Name of a base's node: a base and a flavouring may have the same id."""
    return f"base:{base_id}"


def _add_flavourings(made: nx.Graph[str], model: GraphSource, base_id: str | None) -> dict[str, int]:
    """Add the flavourings; return in how many trials each was liked or disliked."""
    table = model.singles(base_id)
    columns = (table[name].tolist() for name in ("flavouring_id", "points", "trials", "liked"))
    liked = {}
    for id_, points, trials, with_liking in sorted(zip(*columns, strict=True)):
        known = model.shelf.flavouring(id_)
        liked[id_] = int(with_liking)
        made.add_node(
            id_,
            kind="flavouring",
            name=known.name,
            family=known.family,
            points=points,
            trials=int(trials),
            suggestable=may_be_suggested(known, model.shelf),
            **({} if known.version_of is None else {"version_of": known.version_of}),
        )
    return liked


def _add_bases(made: nx.Graph[str], model: GraphSource, base_id: str | None) -> None:
    table = model.affinity()
    if base_id is not None:
        table = table[table["base_id"] == base_id]
    for id_ in sorted(set(table["base_id"])):
        made.add_node(base_node(id_), kind="base", name=model.shelf.base(id_).name, base_id=id_)
    columns = ("base_id", "flavouring_id", "affinity", "sd", "p_positive", "trials")
    for base, flavouring, points, sd, p, n in zip(*(table[c].tolist() for c in columns), strict=True):
        facts: dict[str, Any] = {"affinity": points, "sd": sd, "p_positive": p, "trials": int(n), "tested": n > 0}
        made.add_edge(base_node(base), flavouring, kind="affinity", **facts)


def _inseparable(a: str, b: str, together: int, liked: dict[str, int]) -> dict[str, Any]:
    """Say what the likings cannot tell apart: a flavouring that was never liked without the other one of the pair."""
    alone = [id_ for id_ in (a, b) if liked[id_] > together]
    if len(alone) == 2:
        return {}
    if not alone:
        return {"inseparable": True, "note": ALWAYS_TOGETHER}
    other = b if alone == [a] else a
    return {"note": NEVER_WITHOUT.format(other, alone[0])}
