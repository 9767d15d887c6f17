"""Work that goes on while a page is shown: learning, and choosing what to try."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from concurrent.futures import Future, wait
from typing import Any, TypeVar

import streamlit as st

__all__ = ["at_once", "begun", "draw_when_done", "waited_for"]

T = TypeVar("T")
MOST = 40
"""Results that are held at a time, of all benches and briefs; those that were asked for longest ago go first."""
LOOK_S = 2.0
"""How often an open page looks whether work is done, s; each look takes its share of a slow machine."""
AT_ONCE_S = 0.15
"""What takes no longer is waited for without a word, s."""
_works: dict[Hashable, Future[Any]] = {}
_one_at_a_time = threading.Lock()


def begun(key: Hashable, work: Callable[[], T]) -> Future[T]:
    """Return what was begun under a key, else begin it; the work may not draw on a page.

    A failure is handed out once: whoever asks again afterwards begins anew.
    """
    with _one_at_a_time:
        future = _works.pop(key, None)
        if future is not None and future.done() and future.exception():
            return future
        if future is None:
            future = Future()
            threading.Thread(target=_do, args=(future, work), daemon=True).start()
        _works[key] = future
        for old in list(_works)[:-MOST]:
            del _works[old]
    return future


def _do(future: Future[T], work: Callable[[], T]) -> None:
    try:
        future.set_result(work())
    except BaseException as error:  # noqa: BLE001 - raised where the result is asked for
        future.set_exception(error)


def at_once(*works: Future[Any]) -> bool:
    """Tell whether all of some works are done, or within a moment."""
    return not wait(works, AT_ONCE_S).not_done


def waited_for(future: Future[T], words: str) -> T:
    """Return the result of work, with a word on the page while it goes on."""
    if not at_once(future):
        with st.spinner(words):
            wait([future])
    return future.result()


def draw_when_done(*works: Future[Any]) -> None:
    """Draw the page anew as soon as all of some works are done."""

    @st.fragment(run_every=LOOK_S)
    def look() -> None:
        if all(work.done() for work in works):
            st.rerun(scope="app")

    look()
