"""What several commands share: opening the bench, learning, and reading lists."""

from __future__ import annotations

import argparse
import math
import os
import re
from typing import TYPE_CHECKING, Any

from pairing.cli.output import Output

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned

__all__ = [
    "above_zero",
    "add_common",
    "bench_path",
    "count",
    "default_bench",
    "ids",
    "learn",
    "named",
    "number",
    "open_bench",
]


def add_common(parser: argparse.ArgumentParser, *, again: bool = False) -> None:
    """Add the options of every command; ``again`` to a part of a command, after whose name they may stand too."""
    unless: dict[str, Any] = {"default": argparse.SUPPRESS} if again else {}
    parser.add_argument(
        "--bench", metavar="PATH", help="folder or URL of the bench (else $PAIRING_BENCH, else ./bench)", **unless
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document instead of tables", **unless)
    parser.add_argument("--plugins", metavar="A,B", help="load only these plugins; empty: none", **unless)
    parser.add_argument("--strict-plugins", action="store_true", help="stop at the first fault of a plugin", **unless)


def default_bench() -> str:
    """Folder or URL of the bench where none is named: ``$PAIRING_BENCH``, else ``./bench``."""
    return os.environ.get("PAIRING_BENCH") or "bench"


def bench_path(args: argparse.Namespace) -> str:
    """Folder or URL of the bench: ``--bench``, else `default_bench`."""
    return str(args.bench or default_bench())


def open_bench(args: argparse.Namespace) -> Bench:
    """Open the bench of a command."""
    from pairing.bench import Bench

    return Bench.open(bench_path(args)).choose_plugins(args.plugins, args.strict_plugins)


def learn(args: argparse.Namespace, bench: Bench, out: Output) -> Learned:
    """Learn from the bench's log with a progress bar when it takes long; say what was wrong with plugins."""
    from pairing.learning.stored import learn_bench

    with out.progress("Learning from the log"):
        model = learn_bench(bench)
    faults = [fault for fault in (*bench.host.faults, *model.faults) if not fault.note]
    if args.strict_plugins and faults:
        raise faults[0].as_error()
    for line in dict.fromkeys(fault.line for fault in faults):
        out.warn(line)
    return model


def ids(text: str) -> tuple[str, ...]:
    """Read ``a,b`` as ids.

    Examples
    --------
    >>> ids("oat, whey")
    ('oat', 'whey')
    """
    return tuple(word for part in text.split(",") if (word := part.strip()))


def number(text: str) -> float:
    """Read a number of the command line, with a decimal point or a decimal comma.

    Examples
    --------
    >>> number("20.5"), number("20,5")
    (20.5, 20.5)
    """
    plain = text.strip()
    if re.fullmatch(r"[-+]?[1-9]\d{0,2}(,\d{3})+", plain):
        raise argparse.ArgumentTypeError(f"{text!r} may be a thousand or a fraction: write it without the comma")
    try:
        value = float(plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number: write digits only, such as 20.5") from None
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no number to count with: leave it out for no limit")
    return value


def above_zero(text: str) -> float:
    """Read a number of the command line that must be above 0."""
    value = number(text)
    if value <= 0:
        raise argparse.ArgumentTypeError(f"{text!r} is not above 0")
    return value


def count(text: str) -> int:
    """Read how many of something: a whole number from 1.

    Examples
    --------
    >>> count("5")
    5
    """
    try:
        value = int(text)
    except ValueError:
        value = 0
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1")
    return value


def named(text: str) -> str:
    """Read a name or a path: anything but nothing."""
    if not text.strip():
        raise argparse.ArgumentTypeError("it is empty: give a name")
    return text
