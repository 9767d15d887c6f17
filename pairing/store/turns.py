"""Writers of one SQLite file wait in a queue: who came first goes first, however fast the others are.

SQLite has a lock, but no queue: whoever looks just when it is free gets it, and some may wait for ever. The queue is a
file beside the bench, made when two writers first meet. It holds the number of the last ticket; the holder of a ticket
locks the byte of its number and waits until the byte before is free. Locks of a process that dies are free at once.
Where there are no such locks (Windows) everybody takes part in SQLite's own lottery.
"""

from __future__ import annotations

import os
import random
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

__all__ = ["LONGEST_NAP", "join", "make", "nap", "queue_of"]

LONGEST_NAP = 0.002
"""Seconds (our choice): a writer holds the file for a few milliseconds."""
_FIRST = 1024
"""Place of the byte of ticket 0, behind the number."""
_THREADS: dict[str, threading.Lock] = defaultdict(threading.Lock)
"""Locks of files are a process's: its threads take turns here."""


def queue_of(file: Path) -> Path:
    """Return the queue of an SQLite file."""
    return file.with_name(f"{file.name}-turns")


def nap() -> None:
    """Wait a moment, each time another one, and none longer however often one has waited."""
    time.sleep(random.uniform(0.0, LONGEST_NAP))


def make(file: Path) -> None:
    """Make the queue of a file, where it can be made."""
    with suppress(OSError):
        queue_of(file).touch()


@contextmanager
def join(file: Path, until: float) -> Iterator[None]:
    """Stand in the queue of a file, if there is one, until it is one's turn; leave it at the end.

    Parameters
    ----------
    until : float
        When to wait no longer (`time.monotonic`): SQLite says then that the file is locked.
    """
    queue = queue_of(file)
    if fcntl is None or not queue.exists():
        yield
        return
    with _THREADS[str(queue)]:
        try:
            ticket = os.open(queue, os.O_RDWR)
        except OSError:  # a folder that others own
            yield
            return
        try:
            with suppress(OSError):  # a file system without locks
                _wait(ticket, until)
            yield
        finally:
            os.close(ticket)


def _wait(ticket: int, until: float) -> None:
    """Take the next number, and wait for the one before."""
    fcntl.flock(ticket, fcntl.LOCK_EX)
    number = int.from_bytes(os.pread(ticket, 8, 0), "little") + 1
    os.pwrite(ticket, number.to_bytes(8, "little"), 0)
    fcntl.lockf(ticket, fcntl.LOCK_EX, 1, _FIRST + number)
    fcntl.flock(ticket, fcntl.LOCK_UN)
    while time.monotonic() < until:
        try:
            fcntl.lockf(ticket, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, _FIRST + number - 1)
        except BlockingIOError:
            nap()
        else:
            return
