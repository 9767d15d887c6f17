"""The pages, in the order of the work: what next, the cup, what is known, what is kept, how far to trust it."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import streamlit as st
from streamlit.navigation.page import StreamlitPage

from pairing_dashboard import plugin_views, session

__all__ = ["VIEWS", "show", "view"]

_VIEWS = Path(__file__).with_name("views")
VIEWS = {
    "Now": (
        ("next_cups", "Next cups", "local_cafe"),
        ("bench", "At the bench", "science"),
        ("cards", "Recipe cards", "receipt_long"),
    ),
    "Known": (
        ("pairings", "Pairing map", "hub"),
        ("doses", "Doses", "water_drop"),
        ("quality", "How good is it", "query_stats"),
    ),
    "Kept": (
        ("log", "Log", "history"),
        ("shelf", "Shelf", "shelves"),
        ("blind", "Blind checks", "visibility_off"),
        ("plugins", "Plugins", "extension"),
    ),
}
"""File, title and icon of each page by group."""
ICON = ":material/extension:"


def view(name: str) -> str:
    """Return the path of a view's file, for links and switches."""
    return str(_VIEWS / f"{name}.py")


def show() -> None:
    """Draw the navigation and the page that was asked for.

    Pages of plugins are in it once the plugins are loaded. At the first visit of a new process that would keep the
    title waiting, so the page is drawn first, and drawn again when some plugin does bring a page.
    """
    groups = {
        group: [
            st.Page(view(name), title=title, icon=f":material/{icon}:", url_path=name, default=name == "next_cups")
            for name, title, icon in views
        ]
        for group, views in VIEWS.items()
    }
    known = session.plugins_are_loaded() or not _is_ours(st.context.url)
    st.navigation({**groups, "From plugins": _own_pages() if known else []}).run()
    if not known and session.views():
        st.rerun()


def _is_ours(url: str | None) -> bool:
    """Whether an address is one of our own pages; a plugin's has a hyphen between plugin and page."""
    return "-" not in (url or "").partition("?")[0].rpartition("/")[2]


def _own_pages() -> list[StreamlitPage]:
    """Make the pages that plugins bring."""
    return [
        st.Page(partial(plugin_views.own_page, it), title=it.title, icon=ICON, url_path=it.name.replace(":", "-"))
        for it in session.views()
    ]
