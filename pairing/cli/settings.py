"""What this bench is set to: currency, food law, step of the scale, and in which measures amounts are said."""

from __future__ import annotations

import argparse

from pairing.cli.common import grams_above_zero, open_bench
from pairing.cli.init import add_measures
from pairing.cli.output import Output

_NAMES = ("currency", "jurisdiction", "scale_g", "amounts", "volumes")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what may be changed; without any, all are shown."""
    parser.add_argument("--currency", help="what costs are in: a word only, no cost is converted")
    parser.add_argument("--jurisdiction", choices=("EU", "US"), help="whose food law counts")
    parser.add_argument("--scale-g", type=grams_above_zero, metavar="G", help="smallest step of the scale, g")
    add_measures(parser)


def run(args: argparse.Namespace, out: Output) -> int:
    """Change what is said, then show all."""
    bench = open_bench(args)
    if said := {name: getattr(args, name) for name in _NAMES if getattr(args, name) is not None}:
        bench.configure(**said)
    rows = [{"setting": name, "value": bench.settings[name]} for name in _NAMES]
    out.table("settings", rows, [("setting", "setting"), ("value", "value", str)], title="Settings of this bench")
    return 0
