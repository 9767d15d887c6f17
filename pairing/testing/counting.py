"""What some work costs, counted instead of timed: the same on every machine, however busy it is."""

from __future__ import annotations

import sys
import threading
import tracemalloc
from collections.abc import Callable
from types import FrameType
from typing import Any

__all__ = ["peak_bytes", "steps"]


def steps(do: Callable[[], Any]) -> int:
    """Count the instructions that Python takes; what a library does in C for a whole array is one of them.

    Examples
    --------
    >>> steps(lambda: sum(range(10))) == steps(lambda: sum(range(10_000)))
    True
    >>> steps(lambda: [x for x in range(10_000)]) > 100 * steps(lambda: [x for x in range(10)])
    True
    """
    return _monitored(do) if sys.version_info >= (3, 12) else _traced(do)


def _monitored(do: Callable[[], Any]) -> int:
    """Count by what Python has for it since 3.12 (PEP 669): tracing misses the first call of a function there."""
    if sys.version_info < (3, 12):
        raise RuntimeError("sys.monitoring is new in Python 3.12")
    taken, watching, mine = 0, sys.monitoring, threading.get_ident()

    def count(*_: Any) -> None:
        nonlocal taken
        taken += threading.get_ident() == mine

    watching.use_tool_id(watching.PROFILER_ID, __name__)
    try:
        watching.register_callback(watching.PROFILER_ID, watching.events.INSTRUCTION, count)
        watching.set_events(watching.PROFILER_ID, watching.events.INSTRUCTION)
        do()
    finally:
        watching.set_events(watching.PROFILER_ID, watching.events.NO_EVENTS)
        watching.free_tool_id(watching.PROFILER_ID)
    return taken


def _traced(do: Callable[[], Any]) -> int:
    taken = 0

    def trace(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal taken
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        taken += event == "opcode"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        do()
    finally:
        sys.settrace(before)
    return taken


def peak_bytes(do: Callable[[], Any]) -> int:
    """Count the bytes that some work holds at most beyond what was held before, arrays included.

    Examples
    --------
    >>> 10_000 <= peak_bytes(lambda: bytes(10_000)) < 12_000
    True
    """
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        do()
        return tracemalloc.get_traced_memory()[1] - before
    finally:
        tracemalloc.stop()
