"""What the Pairing map shows: the drawing with its filters, and everything about the chosen flavouring."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing_dashboard import parts, session
from pairing_dashboard.map_component import FAMILY_COLOURS, pairing_map
from pairing_dashboard.wording import count, interval, joined, md, number

if TYPE_CHECKING:
    import networkx

    from pairing.bench import Bench
    from pairing.graph.queries import Questions
    from pairing.learned import Learned

__all__ = ["show"]

SHAPES = "●■◆"
"""Marks of families in the legend, as the map draws them."""
MAP, CHOICE = "map", "map-choice"
EVIDENCE = {
    "tried": "tried together",
    "likely": "likely good (4 in 5)",
    "sure": "surely good (19 in 20)",
    "clash": "likely clash (4 in 5)",
}
PAIR_COLUMNS = ("With", "Liking points beyond the two>", "Chance it is good>", "Cups>", "Note")


def show(bench: Bench, model: Learned) -> None:
    """Draw filters, map and what is known of the choice."""
    shelf = model.shelf
    first, second, third, last = st.columns(4)
    with first:
        evidence = st.selectbox("Show pairs that are", list(EVIDENCE), index=1, format_func=EVIDENCE.__getitem__)
    with second:
        names = {i: b.name for i, b in shelf.bases.items()}
        base = st.selectbox("In", list(names), index=None, format_func=names.__getitem__, placeholder="all bases")
    with third:
        families = sorted({f.family or "no family" for f in shelf.flavourings.values()})
        kept = st.multiselect("Families", families, placeholder="all")
    now: tuple[str, str, str | None] = (session.bench_path(), session.state_key(bench), base)
    asked = _questions(*now, model)
    with last:
        groups = _groups(*now, asked)
        group = st.selectbox("Group that goes together", list(groups), index=None, placeholder="all")
    group = groups.get(group)
    fourth, fifth = st.columns([2, 1], vertical_alignment="bottom")
    with fifth:
        near = st.toggle("Only what goes with it", key="map-near")
    nodes, edges = _drawing(asked.graph, _places(*now, asked), evidence, set(_kept(asked, kept, group)))
    with fourth:
        chosen = _choice(nodes)
    if near and chosen:
        nodes, edges = _around(chosen, nodes, edges)
    st.html(_legend(nodes))
    if not edges:
        st.info("No pair is that sure yet. Show another kind of pair, or log more cups.")
    pairing_map(nodes, edges, key=MAP)
    _as_table(nodes, edges)
    if chosen:
        _about(bench, asked, chosen)
    else:
        _gaps(asked)


@st.cache_resource(show_spinner="Drawing the map …", max_entries=8)
def _questions(path: str, key: str, base_id: str | None, _model: Learned) -> Questions:
    from pairing.graph.queries import Questions

    return Questions(_model.graph() if base_id is None else _graph_in(_model, base_id))


def _graph_in(model: Learned, base_id: str) -> networkx.Graph:
    from pairing.graph.build import graph

    return graph(model, base_id)


@st.cache_data(show_spinner=False, max_entries=8)
def _groups(path: str, key: str, base_id: str | None, _asked: Questions) -> dict[str, tuple[str, ...]]:
    """Name the groups of two and more by their first members."""
    from pairing.graph.groups import groups

    names = {i: _asked.graph.nodes[i]["name"] for i in _asked.ids}
    found = [members for members in groups(_asked) if len(members) > 1]
    return {f"{joined(names[i] for i in m[:3])}{' …' if len(m) > 3 else ''}": m for m in found}


def _kept(asked: Questions, families: list[str], group: tuple[str, ...] | None) -> Iterator[str]:
    for i in asked.ids if group is None else group:
        if not families or (asked.graph.nodes[i]["family"] or "no family") in families:
            yield i


def _around(
    chosen: str, nodes: list[dict[str, Any]], edges: list[dict[str, Any]]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Keep a flavouring, what goes with it, and the pairs among these."""
    near = {chosen} | {e["a"] if e["b"] == chosen else e["b"] for e in edges if chosen in (e["a"], e["b"])}
    return [n for n in nodes if n["id"] in near], [e for e in edges if {e["a"], e["b"]} <= near]


@st.cache_data(show_spinner=False, max_entries=8)
def _places(path: str, key: str, base_id: str | None, _asked: Questions) -> dict[str, tuple[float, float]]:
    """Lay out what hangs together by its good pairs, the largest part first; what hangs on nothing has no place."""
    import networkx as nx

    good = nx.Graph()
    good.add_weighted_edges_from(
        (a, b, max(e["synergy"], 0.05)) for a, b, e in _asked.strong.edges(data=True) if e["p_positive"] >= 0.6
    )
    places: dict[str, tuple[float, float]] = {}
    left = 0.0
    for part in sorted(nx.connected_components(good), key=lambda p: (-len(p), min(p))):
        wide = len(part) ** 0.5
        drawn = good.subgraph(sorted(part))
        for node, (x, y) in nx.spring_layout(drawn, seed=4, k=1.6 / wide, iterations=80).items():
            places[node] = (left + float(x) * wide, float(y) * wide)
        left += 2.2 * wide
    return places


def _drawing(
    graph: networkx.Graph, places: dict[str, tuple[float, float]], evidence: str, drawn: set[str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    from pairing.graph.queries import LIKELY, SURE

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


def _choice(nodes: list[dict[str, Any]]) -> str | None:
    """Let the list and the map choose the same flavouring."""
    names = {n["id"]: n["name"] for n in nodes}
    on_map = st.session_state.get(MAP, {}).get("selected")
    st.session_state[CHOICE] = on_map if on_map in names else None

    def from_list() -> None:
        st.session_state[MAP] = {"selected": st.session_state[CHOICE]}

    return st.selectbox(
        "Flavouring",
        list(names),
        format_func=names.__getitem__,
        key=CHOICE,
        on_change=from_list,
        index=None,
        placeholder="Choose one here or on the map",
    )


def _legend(nodes: list[dict[str, Any]]) -> str:
    seen = {
        n["family"]: f'<span aria-hidden="true" style="color:{n["color"]}">{SHAPES[n["shape"]]}</span>' for n in nodes
    }
    marks = " &nbsp; ".join(
        f'<span style="white-space:nowrap">{mark} {parts.escape(family)}</span>'
        for family, mark in sorted(seen.items())
    )
    return (
        f'<p class="quiet">{marks}<br>Thick line: many points. Solid: tried. Dashes: expected, not tried. '
        "Dots: they clash. Large mark: many cups.</p>"
    )


def _as_table(nodes: list[dict[str, Any]], edges: list[dict[str, Any]]) -> None:
    names = {n["id"]: n["name"] for n in nodes}
    rows = sorted(edges, key=lambda e: -e["synergy"])
    with st.expander("The same as a table"):
        parts.table(
            ((names[e["a"]], names[e["b"]], f"{e['synergy']:+.2f}", e["trials"]) for e in rows),
            ("Flavouring", "With", "Liking points beyond the two>", "Cups>"),
            "Pairs on the map",
        )


def _about(bench: Bench, asked: Questions, chosen: str) -> None:
    """Tell partners, stand-ins and the cups behind a pair."""
    name = asked.graph.nodes[chosen]["name"]
    st.subheader(md(name), anchor=False)
    with_, instead, cups = st.tabs(["Partners", "Stand-ins", "Cups behind a pair"])
    tested, predicted = asked.partners(chosen)
    with with_:
        parts.table(map(_pair_row, tested.to_dict("records")), PAIR_COLUMNS, "Tried together")
        parts.table(map(_pair_row, predicted.to_dict("records")), PAIR_COLUMNS, "Not tried yet")
    with instead:
        st.write(f"What goes, and clashes, with the same partners as {md(name)}.")
        rows = asked.stand_ins(chosen).to_dict("records")
        shared = {i: asked.graph.nodes[i]["name"] for i in asked.ids}
        parts.table(
            (
                (r["name"], r["family"] or "—", f"{r['likeness']:.2f}", joined(shared[i] for i in r["shared"]) or "—")
                for r in rows
            ),
            ("Instead", "Family", "Likeness, −1 to 1>", "Partners of both"),
            "Stand-ins",
        )
    with cups:
        others = {r["partner"]: r["name"] for r in tested.to_dict("records")}
        if not others:
            st.write("No cup had it together with another flavouring yet.")
            return
        other = st.selectbox("Together with", list(others), format_func=others.__getitem__)
        _cups(bench, chosen, other)


def _pair_row(row: dict[str, Any]) -> tuple[str, ...]:
    figures = interval(row["synergy"], row["low"], row["high"])
    return row["name"], figures, f"{row['p_positive']:.0%}", str(int(row["trials"])), row["note"] or "—"


def _cups(bench: Bench, a: str, b: str) -> None:
    """List the cups that held both."""
    readings = session.table(bench, "readings")
    both = set(readings.loc[readings["flavouring_id"] == a, "trial_id"])
    both &= set(readings.loc[readings["flavouring_id"] == b, "trial_id"])
    rows = readings[readings["trial_id"].isin(both) & readings["flavouring_id"].isin([a, b])]
    parts.table(
        (
            (
                trial,
                group["base_id"].iloc[0],
                group["taster"].iloc[0],
                number(group["liking"].iloc[0]),
                joined(f"{f} {number(d)}" for f, d in zip(group["flavouring_id"], group["dose_g_per_kg"], strict=True)),
            )
            for (trial, _, _), group in rows.groupby(["trial_id", "taster", "reading"], sort=False)
        ),
        ("Cup", "Base", "Taster", "Liking, 1–9>", "Doses, g/kg"),
        f"{count(len(both), 'cup')} with both",
    )


def _gaps(asked: Questions) -> None:
    """Offer pairs that nobody has tried."""
    try:
        rows = asked.gaps(8).to_dict("records")
    except PairingError as error:
        parts.problem(error)
        return
    st.subheader("Worth trying, never tried", anchor=False)
    parts.table(
        ((r["name_a"], r["name_b"], f"{r['synergy']:+.2f} ± {r['sd']:.2f}", f"{r['p_positive']:.0%}") for r in rows),
        ("Flavouring", "With", "Expected liking points beyond the two>", "Chance it is good>"),
        "Gaps in the map",
    )
