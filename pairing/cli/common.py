"""What several commands share: opening the bench, learning, and reading lists."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from pairing.cli.output import Output
from pairing.errors import PairingError, QuantityError
from pairing.quantities.rates import read_in, read_whole
from pairing.report.rotation import rotate
from pairing.store.places import default_place

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.shelf import Shelf

__all__ = [
    "WrongUsage",
    "add_common",
    "bench_path",
    "by_ids",
    "count",
    "grams_above_zero",
    "ids",
    "learn",
    "named",
    "number",
    "number_in",
    "open_bench",
    "tell_rotation",
    "whole",
]


class WrongUsage(PairingError):
    """Words on the command line that no command takes."""


def add_common(parser: argparse.ArgumentParser, *, again: bool = False) -> None:
    """Add the options of every command; ``again`` to a part of a command, after whose name they may stand too."""
    unless: dict[str, Any] = {"default": argparse.SUPPRESS} if again else {}
    parser.add_argument(
        "--bench", metavar="PATH", help="folder or URL of the bench (else $PAIRING_BENCH, else ./bench)", **unless
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document instead of tables", **unless)
    parser.add_argument("--plugins", metavar="A,B", help="load only these plugins; empty: none", **unless)
    parser.add_argument("--strict-plugins", action="store_true", help="stop at the first fault of a plugin", **unless)


def bench_path(args: argparse.Namespace) -> str:
    """Folder or URL of the bench: ``--bench``, else `default_place`."""
    return str(args.bench or default_place())


def open_bench(args: argparse.Namespace) -> Bench:
    """Open the bench of a command."""
    from pairing.bench import Bench

    return Bench.open(bench_path(args)).choose_plugins(args.plugins, args.strict_plugins)


def learn(args: argparse.Namespace, bench: Bench, out: Output) -> Learned:
    """Learn from the bench's log with a progress bar when it takes long; say what was wrong with plugins."""
    with out.progress("Learning from the log"):
        model = bench.learn()
    out.names = model.shelf.names
    faults = [fault for fault in (*bench.host.faults, *model.faults) if not fault.note]
    if args.strict_plugins and faults:
        raise faults[0].as_error()
    for line in dict.fromkeys(fault.line for fault in faults):
        out.warn(line)
    return model


def by_ids(args: argparse.Namespace, shelf: Shelf, bases: Sequence[str] = (), flavourings: Sequence[str] = ()) -> None:
    """Put ids in the place of names, in options that name bases or flavourings."""
    kinds = ((bases, lambda text: shelf.base(text).base_id), (flavourings, lambda t: shelf.flavouring(t).flavouring_id))
    for options, meant in kinds:
        for option in options:
            given = getattr(args, option, None)
            if given:
                setattr(args, option, meant(given) if isinstance(given, str) else tuple(map(meant, given)))


def tell_rotation(bench: Bench, out: Output) -> None:
    """Propose a rest for what is liked less and less; nothing where nothing is."""
    found = bench.falling()
    out.value("falling", found)
    if said := rotate(found, bench.shelf().names):
        out.say(said)


def ids(text: str) -> tuple[str, ...]:
    """Read ``a,b`` as ids.

    Examples
    --------
    >>> ids("oat, whey")
    ('oat', 'whey')
    """
    return tuple(word for part in text.split(",") if (word := part.strip()))


def number(text: str, name: str = "") -> float:
    """Read a number of the command line, with or without the unit that a name carries.

    Examples
    --------
    >>> number("20.5"), number("20,5"), number("0.5 kg", "serving_g")
    (20.5, 20.5, 500.0)
    """
    try:
        return read_in(text, name)
    except QuantityError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def number_in(name: str) -> Callable[[str], float]:
    """Return the reader of an option whose name carries a unit, as `number` reads it."""
    return partial(number, name=name)


def grams_above_zero(text: str) -> float:
    """Read a mass of the command line in g that must be above 0."""
    value = number(text, "g")
    if value <= 0:
        raise argparse.ArgumentTypeError(f"{text!r} is not above 0")
    return value


def whole(text: str) -> int:
    """Read a whole number of the command line."""
    try:
        return read_whole(text)
    except QuantityError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def count(text: str) -> int:
    """Read how many of something: a whole number from 1.

    Examples
    --------
    >>> count("5")
    5
    """
    value = whole(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1")
    return value


def named(text: str) -> str:
    """Read a name or a path: anything but nothing."""
    if not text.strip():
        raise argparse.ArgumentTypeError("it is empty: give a name")
    return text
