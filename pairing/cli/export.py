"""Write all tables to a folder of CSV files or to one spreadsheet; loading them back gives the same bench."""

from __future__ import annotations

import argparse

from pairing.cli.common import named, open_bench
from pairing.cli.output import Output

SUMMARY = "write all tables to a folder or a spreadsheet"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where to."""
    parser.add_argument("to", type=named, metavar="PATH", help="a folder for CSV files, or a file ending in .xlsx")


def run(args: argparse.Namespace, out: Output) -> int:
    """Export."""
    bench = open_bench(args)
    with out.progress("Exporting"):
        bench.export(args.to)
    out.value("exported_to", args.to)
    out.say(f"All tables are written to {args.to}")
    return 0
