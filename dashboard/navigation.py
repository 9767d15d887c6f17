"""The way about: a bar under the thumb on a phone, a list at the side on a desk, and the pages of plugins."""

from __future__ import annotations

from functools import partial

import streamlit as st
from streamlit.navigation.page import StreamlitPage

from pairing_dashboard import brief_kept, pages, plugin_views, session

__all__ = ["listed", "own_pages", "show"]

ICON = ":material/extension:"


def show() -> None:
    """Draw the ways about and the page that was asked for.

    Pages of plugins are among them once the plugins are loaded. At the first visit of a new process that would keep
    the title waiting, so the page is drawn first, and drawn again when some plugin does bring a page.
    """
    known = session.plugins_are_loaded() or not _is_ours(st.context.url)
    own = own_pages() if known else []
    ours = [_page(it) for views in pages.VIEWS.values() for it in views]
    asked = st.navigation([*ours, _page(pages.MORE), *own], position="hidden")
    _ways(own)
    with pages.visit(asked.url_path):
        asked.run()
    if not known and session.views():
        st.rerun()


def _page(it: pages.View) -> StreamlitPage:
    # without an icon: the browser would show it as the window's own, and fetch it from elsewhere
    return st.Page(pages.view(it.name), title=it.title, url_path=it.name, default=it.name == "next_cups")


def _ways(own: list[StreamlitPage]) -> None:
    """Draw the bar and the list; the style sheet shows the one that fits the window."""
    with st.container(key="bar", horizontal=True, gap=None):
        for it in pages.BAR:
            pages.link(it.name, it.short, stretch=True)
    with st.sidebar:
        listed(own)


def listed(own: list[StreamlitPage], *, without: tuple[str, ...] = (), leads: bool = False) -> None:
    """List the pages by group, as links."""
    for group, views in pages.VIEWS.items():
        if shown := [it for it in views if it.name not in without]:
            st.html(f'<p class="group">{group}</p>')
            for it in shown:
                pages.link(it.name, f"**{it.title}**\n\n{it.lead}" if leads else "", stretch=True)
    if own:
        st.html('<p class="group">From plugins</p>')
        for page in own:
            st.page_link(page, icon=ICON, width="stretch", query_params=brief_kept.address() or None)


def _is_ours(url: str | None) -> bool:
    """Whether an address is one of our own pages; a plugin's has a hyphen between plugin and page."""
    return "-" not in (url or "").partition("?")[0].rpartition("/")[2]


def own_pages() -> list[StreamlitPage]:
    """Make the pages that plugins bring."""
    if not (views := session.views()):
        return []
    return [
        st.Page(partial(plugin_views.own_page, it), title=it.title, url_path=it.name.replace(":", "-")) for it in views
    ]
