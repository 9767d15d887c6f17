"""The pairing map as a component: plain SVG, no build step, nothing fetched from elsewhere."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import streamlit as st

__all__ = ["FAMILY_COLOURS", "pairing_map"]

FAMILY_COLOURS = (
    "#a85a96", "#2f8f7d", "#c06a24", "#5580c4", "#9a8420", "#c4586a", "#5f9140", "#7f7f92",
)  # fmt: skip
"""Colours of flavouring families; each stands out at 3:1 from the light and from the dark ground."""

_HERE = Path(__file__).parent
_component = st.components.v2.component(
    "pairing_map",
    html='<div class="wrap"><div class="bar"><button type="button" data-z="in" aria-label="Zoom in">+</button>'
    '<button type="button" data-z="out" aria-label="Zoom out">&minus;</button>'
    '<button type="button" data-z="all">Show all</button>'
    '<button type="button" class="picture">Save as SVG</button></div>'
    '<svg role="group" aria-label="Pairing map"></svg><div class="tip" role="status" aria-live="polite"></div></div>',
    css=(_HERE / "map_component.css").read_text(encoding="utf-8"),
    js=(_HERE / "map_component.js").read_text(encoding="utf-8"),
)


def pairing_map(
    nodes: Sequence[Mapping[str, Any]],
    edges: Sequence[Mapping[str, Any]],
    *,
    key: str,
    height: int = 560,
) -> str | None:
    """Draw the map and say which flavouring is chosen.

    Parameters
    ----------
    nodes : sequence of mapping
        ``id, name, family, color, shape`` (0 disc, 1 square, 2 diamond), ``trials, x, y``, and
        ``loose`` (true: it stands in the rows below instead of at its place).
    edges : sequence of mapping
        ``a, b, synergy`` (liking points), ``tested``.
    key : str
        Widget key; the choice lives under it.
    height : int
        Least height, CSS px; the drawing grows when labels would overlap.

    Returns
    -------
    str or None
        Id of the chosen flavouring.
    """
    chosen = st.session_state.get(key, {}).get("selected")
    # bytes, because a dict would bring in pandas and pyarrow before the first drawing
    data = json.dumps({"nodes": nodes, "edges": edges, "selected": chosen, "height": height}).encode()
    result = _component(data=data, default={"selected": chosen}, key=key, on_selected_change=lambda: None)
    selected: str | None = result.selected
    return selected
