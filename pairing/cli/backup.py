"""Copy the bench to a new folder while it is in use. The copy opens like any bench: --bench FOLDER.

Plugin files and their settings go along. A bench on a server comes as a folder, with everything that it holds.
"""

from __future__ import annotations

import argparse

from pairing.cli.common import named, open_bench
from pairing.cli.output import Output


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where to."""
    parser.add_argument("to", type=named, metavar="FOLDER", help="a new folder for the copy")


def run(args: argparse.Namespace, out: Output) -> int:
    """Copy."""
    bench = open_bench(args)
    with out.progress("Copying"):
        folder = bench.backup(args.to)
    out.value("backup", str(folder))
    out.say(f"The bench is copied to {folder}, as it is at revision {bench.revision}. Ask it with --bench {folder}")
    return 0
