"""Erase a person for good: name, body mass, age and what is avoided, in past revisions too. The cups stay.

On the cups stands another name then. This cannot be taken back. Copies and exports made before still hold the name.
"""

from __future__ import annotations

import argparse

from pairing.cli.common import named, open_bench
from pairing.cli.output import Output
from pairing.errors import StoreError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Whom, and that it is meant."""
    parser.add_argument("taster", type=named, metavar="TASTER", help="whose name is erased")
    parser.add_argument("--yes", action="store_true", help="do it: it cannot be taken back")


def run(args: argparse.Namespace, out: Output) -> int:
    """Erase, if it is meant."""
    bench = open_bench(args)
    if not args.yes:
        raise StoreError(
            f"erasing {args.taster} cannot be taken back: name, body mass, age and what is avoided go for good, past "
            "revisions too; the cups stay, under another name",
            f"if that is meant: pairing erase-taster {args.taster} --yes",
        )
    done = bench.erase_taster(args.taster)
    out.value("kept_as", done.kept_as)
    out.value("rows", done.rows)
    out.value("mentions", list(done.mentions))
    rows = ", ".join(f"{n} {name}" for name, n in done.rows.items()) or "none"
    out.say(f"{args.taster} is erased, past revisions too. On the cups stands {done.kept_as!r} now (rows: {rows}).")
    if done.mentions:
        out.warn(f"the name still stands in free text: {', '.join(done.mentions)}: look at them, and correct them")
    out.say(f"Not reached: {_elsewhere(bench.plugin_folder is not None)}.")
    return 0


def _elsewhere(in_a_folder: bool) -> str:
    kept = "copies and exports made before"
    beside = ", copies of the file that an upgrade left beside it (bench.version-*.sqlite)"
    return f"{kept}{beside if in_a_folder else ', tables version_* that an upgrade left'}, plugin files"
