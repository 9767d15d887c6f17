"""What several commands share: opening the bench, learning, and reading lists."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING

from pairing.cli.output import Output

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned

__all__ = ["bench_path", "ids", "learn", "open_bench"]

DEFAULT_BENCH = "bench"


def bench_path(args: argparse.Namespace) -> str:
    """Folder or URL of the bench: ``--bench``, else ``$PAIRING_BENCH``, else ``./bench``."""
    return str(args.bench or os.environ.get("PAIRING_BENCH") or DEFAULT_BENCH)


def open_bench(args: argparse.Namespace) -> Bench:
    """Open the bench of a command."""
    from pairing.bench import Bench

    return Bench.open(bench_path(args))


def learn(bench: Bench, out: Output, random_state: int = 0) -> Learned:
    """Learn from the bench's log, with a progress bar when it takes long."""
    with out.progress("Learning from the log"):
        return bench.learn(random_state=random_state)


def ids(text: str) -> tuple[str, ...]:
    """Read ``a,b`` as ids.

    Examples
    --------
    >>> ids("oat, whey")
    ('oat', 'whey')
    """
    return tuple(word for part in text.split(",") if (word := part.strip()))
