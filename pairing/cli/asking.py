"""A question before something is stored: asked at a terminal, answered by ``--yes`` where nobody sits there."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from pairing.errors import LogError
from pairing.running import answer

__all__ = ["add_yes", "sure"]


def add_yes(parser: argparse.ArgumentParser) -> None:
    """Declare ``--yes``."""
    parser.add_argument("--yes", action="store_true", help="yes to what would be asked: the doses are as they are said")


def sure(doubts: Sequence[str], args: argparse.Namespace, remedy: str) -> None:
    """Ask whether what is doubtful is right; return when it is.

    Raises
    ------
    LogError
        When the answer is no, and where nobody can be asked and ``--yes`` is not said. Nothing is stored then.
    """
    if not doubts or args.yes:
        return
    said = "; ".join(doubts)
    if not args.json and sys.stdin is not None and sys.stdin.isatty() and answer().isatty():
        print(f"{said}. Is that what is in the cup? [y/N] ", end="", file=sys.stderr, flush=True)
        if sys.stdin.readline().strip().casefold() in ("y", "yes"):
            return
    raise LogError(f"{said}: nothing is stored yet", remedy)
