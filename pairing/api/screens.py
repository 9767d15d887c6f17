"""Commands of the command line and pages of the dashboard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import argparse

__all__ = ["Command", "View"]


@dataclass(frozen=True, kw_only=True)
class Command:
    """A command of its own for the command line, run as ``pairing NAME``.

    Attributes
    ----------
    name : str
        Lower case with hyphens; may not be one that the tool has already.
    summary : str
        One line for the help text.
    add_arguments : callable
        ``add_arguments(parser)`` with an `argparse.ArgumentParser`.
    run : callable
        ``run(arguments) -> int or None``, the exit code. One that takes three values is handed the arguments, the
        opened bench, and ``out``, through which it answers: ``out.say(text)``, ``out.table(name, rows, columns)``,
        ``out.value(name, value)``; ``--json`` then comes by itself (since 1.1).
    """

    name: str
    summary: str
    run: Callable[..., int | None]
    add_arguments: Callable[[argparse.ArgumentParser], None] = lambda parser: None


@dataclass(frozen=True, kw_only=True)
class View:
    """A page of its own in the dashboard.

    Attributes
    ----------
    name : str
        Lower case with hyphens; the page's address.
    title : str
        What the navigation shows.
    show : callable
        ``show(bench, model)`` draws the page with Streamlit, which it imports itself when called. A fault in it is
        shown as a card on that page only.
    summary : str
        One sentence under the title.
    """

    name: str
    title: str
    show: Callable[[Any, Any], None]
    summary: str = ""
