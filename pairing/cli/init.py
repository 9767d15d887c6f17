"""Make a new, empty bench: a folder with the database that keeps bases, flavourings and every cup."""

from __future__ import annotations

import argparse

from pairing.cli.common import bench_path, grams_above_zero
from pairing.cli.output import Output
from pairing.model.measures import FIRST, SYSTEMS
from pairing.store.database import shown


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the settings that a bench has from the first day."""
    parser.add_argument("--currency", default="EUR", help="currency of all costs (EUR)")
    parser.add_argument("--jurisdiction", choices=("EU", "US"), default="EU", help="whose food law counts (EU)")
    parser.add_argument(
        "--scale-g", type=grams_above_zero, default=0.1, metavar="G", help="smallest step of the scale, g (0.1)"
    )
    add_measures(parser)


def add_measures(parser: argparse.ArgumentParser) -> None:
    """Declare in which measures amounts are said."""
    parser.add_argument("--amounts", choices=FIRST, help=f"which figure of an amount is said first ({FIRST[0]})")
    parser.add_argument("--volumes", choices=SYSTEMS, help=f"units of volumes ({SYSTEMS[0]})")


def run(args: argparse.Namespace, out: Output) -> int:
    """Create the bench; one that exists is refused, never overwritten."""
    from pairing.bench import Bench

    path = bench_path(args)
    said = {name: getattr(args, name) for name in ("amounts", "volumes") if getattr(args, name)}
    Bench.create(path, currency=args.currency, jurisdiction=args.jurisdiction, scale_g=args.scale_g, **said)
    out.value("bench", shown(path))
    out.say(f"Made an empty bench in {shown(path)}.")
    out.say("Next: pairing load bases.csv flavourings.csv readings.csv (any of them, CSV, XLSX or Parquet).")
    return 0
