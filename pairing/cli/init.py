"""Make a new, empty bench: a folder with the database that keeps bases, flavourings and every cup."""

from __future__ import annotations

import argparse

from pairing.cli.common import bench_path, grams_above_zero
from pairing.cli.output import Output
from pairing.store.database import shown


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the settings that a bench has from the first day."""
    parser.add_argument("--currency", default="EUR", help="currency of all costs (EUR)")
    parser.add_argument("--jurisdiction", choices=("EU", "US"), default="EU", help="whose food law counts (EU)")
    parser.add_argument(
        "--scale-g", type=grams_above_zero, default=0.1, metavar="G", help="smallest step of the scale, g (0.1)"
    )


def run(args: argparse.Namespace, out: Output) -> int:
    """Create the bench; one that exists is refused, never overwritten."""
    from pairing.bench import Bench

    path = bench_path(args)
    Bench.create(path, currency=args.currency, jurisdiction=args.jurisdiction, scale_g=args.scale_g)
    out.value("bench", shown(path))
    out.say(f"Made an empty bench in {shown(path)}.")
    out.say("Next: pairing load bases.csv flavourings.csv readings.csv (any of them, CSV, XLSX or Parquet).")
    return 0
