"""The Pairing map: the drawing with its filters, the same as a table, and the choice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing_dashboard import parts, session
from pairing_dashboard.map_about import about, begins_with, gaps, to_grow, tried
from pairing_dashboard.map_component import pairing_map
from pairing_dashboard.map_drawing import EVIDENCE, SHAPES, around, drawing, groups, kept, most, places, questions

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.graph.queries import Questions
    from pairing.learned import Learned

__all__ = ["show"]

FEW_PAIRS = 3
"""With fewer pairs tried the map says what would make it grow."""
MAP, CHOICE = "map", "map-choice"


def show(bench: Bench, model: Learned) -> None:
    """Draw the map first, with what is known of the choice beside it; what is drawn is chosen below."""
    search, place, below = st.container(), st.container(), st.container()
    shelf = model.shelf
    with st.expander("What is drawn", icon=":material/tune:", key="map-filters"):
        first, second, third, last = st.columns(4)
        names = {i: b.name for i, b in shelf.bases.items()}
        parts.renamed("map-base", names)
        base = second.selectbox(
            "In", list(names), index=None, format_func=names.__getitem__, placeholder="all bases", key="map-base"
        )
        known = sorted({f.family or "no family" for f in shelf.flavourings.values()})
        families = third.multiselect("Families", known, placeholder="all")
        now: tuple[str, str, str | None] = (session.bench_path(), session.state_key(bench), base)
        asked = questions(*now, model)
        begin = list(EVIDENCE).index(begins_with(asked))
        evidence = first.selectbox("Show pairs that are", list(EVIDENCE), begin, format_func=EVIDENCE.__getitem__)
        found = groups(*now, asked)
        named = last.selectbox("Group that goes together", list(found), index=None, placeholder="all")
        near = st.toggle("Only what goes with it", key="map-near")
    group = None if named is None else found[named]
    nodes, edges = drawing(asked.graph, places(*now, asked), evidence, set(kept(asked, families, group)))
    with search:
        chosen = _choice(nodes)
    everything = len(nodes)
    nodes, edges = around(chosen, nodes, edges) if near and chosen else most(nodes, edges, chosen)
    with place:
        _map(nodes, edges, asked, everything if not near else len(nodes))
        if chosen:
            with st.container(key="chosen"):
                about(bench, model, asked, chosen, base)
    with below:
        if not chosen:
            gaps(model, asked, base)
        _as_table(nodes, edges)


def _map(nodes: list[dict[str, Any]], edges: list[dict[str, Any]], asked: Questions, everything: int) -> None:
    if not edges or tried(asked) < FEW_PAIRS:
        st.info(to_grow(asked))
    if len(nodes) > 1:
        pairing_map(nodes, edges, key=MAP)
        st.html(_legend(nodes))
    if len(nodes) < everything:
        st.html(
            f'<p class="quiet">{len(nodes)} of {everything} are drawn: what is chosen with its pairs, then the pairs '
            "that tell most, then what was tasted most. The list finds the others; a family, a group or "
            "<em>Only what goes with it</em> draws fewer.</p>"
        )


def _choice(nodes: list[dict[str, Any]]) -> str | None:
    """Let the list and the map choose the same flavouring."""
    names = {n["id"]: n["name"] for n in nodes}
    on_map = st.session_state.get(MAP, {}).get("selected")
    st.session_state[CHOICE] = on_map if on_map in names else None

    def from_list() -> None:
        st.session_state[MAP] = {"selected": st.session_state[CHOICE]}

    chosen: str | None = st.selectbox(
        "Flavouring",
        list(names),
        format_func=names.__getitem__,
        key=CHOICE,
        on_change=from_list,
        index=None,
        placeholder="Choose one here or on the map",
        label_visibility="collapsed",
    )
    return chosen


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
    parts.as_table(
        ((names[e["a"]], names[e["b"]], f"{e['synergy']:+.2f}", e["trials"]) for e in rows),
        ("Flavouring", "With", "Liking points beyond the two>", "Cups>"),
        "Pairs on the map",
    )
