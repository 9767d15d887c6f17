"""The pages, in the order of the work: what next, the cup, what is known, what is kept, how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from pairing_dashboard import brief_kept, parts

__all__ = ["BAR", "MORE", "VIEWS", "View", "by_name", "head", "link", "stand_by_address", "view", "visit"]

_VIEWS = Path(__file__).with_name("views")
_DRAWN = "page-drawn"


@dataclass(frozen=True)
class View:
    """One page: its file, its title, an icon, and a line on what it is for."""

    name: str
    title: str
    icon: str
    lead: str
    short: str = ""

    @property
    def mark(self) -> str:
        """The icon as Streamlit writes it."""
        return f":material/{self.icon}:"


VIEWS: Mapping[str, tuple[View, ...]] = {
    "Now": (
        View("next_cups", "Next cups", "local_cafe", "What is worth trying next.", "Next"),
        View("bench", "At the bench", "science", "One cup, one question at a time. Every tap is saved.", "Bench"),
        View(
            "evening", "Evening", "nightlight", "Cups in order for those who are there, planned anew after every one."
        ),
        View("cards", "Recipe cards", "receipt_long", "One page for a recipe: what goes in, and how sure that is."),
    ),
    "Known": (
        View("pairings", "Pairing map", "hub", "What goes with what: liked more together than each explains alone."),
        View("doses", "Doses", "water_drop", "How much reads 'just right', in which base, and how sure that is."),
        View("pool", "Other kitchens", "groups", "What others know, and what would leave for them."),
        View("quality", "How good is it", "query_stats", "What the predictions are worth on cups not seen."),
    ),
    "Kept": (
        View("log", "Log", "history", "Every cup. A correction and an undo are kept beside it.", "Log"),
        View("recipes", "Recipes", "bookmark", "What was kept by name: its versions, what changed and why."),
        View("shelf", "Shelf", "shelves", "What can go into a cup, and who drinks it."),
        View("bottles", "Bottles", "inventory_2", "What is left of each bottle and bag, and what to buy."),
        View("blind", "Blind checks", "visibility_off", "Coded cups tell a real difference from a hoped-for one."),
        View("plugins", "Plugins", "extension", "Bases and rules from elsewhere, and what the log made of them."),
    ),
}
"""The pages by group."""
MORE = View("more", "More", "apps", "All the other pages.", "More")
"""The page that leads to those which are not in the bar of a phone."""
BAR = (*(it for views in VIEWS.values() for it in views if it.short), MORE)
"""What stands under the thumb on a phone."""


def by_name(name: str) -> View:
    """Return a page by the name of its file."""
    return next(it for it in (*BAR, *(one for views in VIEWS.values() for one in views)) if it.name == name)


def head(name: str) -> None:
    """Write the title of a page and what it is for; first thing in every view."""
    it = by_name(name)
    parts.title(it.title, it.lead)


def view(name: str) -> str:
    """Return the path of a view's file, for links."""
    return str(_VIEWS / f"{name}.py")


def link(name: str, label: str = "", *, icon: str | None = None, stretch: bool = False, **address: str) -> None:
    """Draw a link to a page, with what stands in its address; the brief comes along.

    A link and not a jump from Python, which leaves a step behind that *Back* has to take twice.
    """
    it = by_name(name)
    st.page_link(
        view(name),
        label=label or it.title,
        icon=icon or it.mark,
        width="stretch" if stretch else "content",
        query_params={**brief_kept.address(), **address} or None,
    )


@contextmanager
def visit(address: str) -> Iterator[None]:
    """Remember, once a page was drawn, that this window is there."""
    try:
        yield
    finally:
        st.session_state[_DRAWN] = address


def stand_by_address(page: str, *names: str) -> None:
    """Have the browser show what this run was asked for under these names of the address.

    A link from a page to itself reaches Python but leaves the browser's address as it was: the next tap would lose it.
    From any other page the browser brings the address along, and may not be told: it would now and then take what it
    is told for an address of the page before, one step more for *Back*.
    """
    if st.session_state.get(_DRAWN) != page:
        return
    if asked := {name: st.query_params[name] for name in names if name in st.query_params}:
        st.query_params.update(asked)
