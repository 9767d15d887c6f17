"""Take in another bench of the same person or team: what both have is there once, what differs is kept apart.

An id that means something else in the other bench gets ~2 behind it, wherever it stands. The other bench stays as it
is; its settings and cups in hand are not taken along, what its cups were before is, and so is its prior from other
kitchens where there is none here. pairing undo takes the cups back.
"""

from __future__ import annotations

import argparse

from pairing.cli.common import named, open_bench
from pairing.cli.output import Output


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Which one."""
    parser.add_argument("other", type=named, metavar="BENCH", help="folder or URL of the other bench")


def run(args: argparse.Namespace, out: Output) -> int:
    """Merge; 1 when rows were refused."""
    bench = open_bench(args)
    with out.progress("Merging"):
        report = bench.merge(args.other)
    out.value("accepted", dict(report.accepted))
    out.value("there", dict(report.there))
    new = ", ".join(f"{n} {name}" for name, n in report.accepted.items()) or "nothing new"
    there = ", ".join(f"{n} {name}" for name, n in report.there.items()) or "nothing"
    out.say(f"Taken in: {new}. Here already: {there}.")
    columns = [("table", "table"), ("id", "id there"), ("kept_as", "kept here as")]
    if len(report.renamed) or out.json:
        out.table("renamed", report.renamed, columns, title="Ids that mean something else here")
    if len(report.refused) or out.json:
        columns = [(name, name) for name in ("table", "column", "value", "reason", "remedy")]
        out.table("refused", report.refused, columns, title="Refused, as they contradict what is here")
    out.value("prior", report.prior)
    if report.prior:
        out.say("This bench learns with the other's prior from now on. To end that: pairing pool adopt --drop")
    if report.revision is not None:
        out.say("To take it back: pairing undo")
    return 1 if len(report.refused) else 0
