"""Write all tables to a folder of CSV files or to one spreadsheet; loading them back gives the same tables.

Settings (currency, food law, scale), blind checks and cups in hand, and plugin files are no tables: they stay here.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from pairing.cli.common import named, open_bench
from pairing.cli.output import Output

if TYPE_CHECKING:
    from pairing.bench import Bench


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where to."""
    parser.add_argument("to", type=named, metavar="PATH", help="a folder for CSV files, or a file ending in .xlsx")


def run(args: argparse.Namespace, out: Output) -> int:
    """Export."""
    bench = open_bench(args)
    left = _left_behind(bench)
    with out.progress("Exporting"):
        bench.export(args.to)
    out.value("exported_to", args.to)
    out.value("left_behind", left)
    out.say(f"All tables are written to {args.to}")
    out.say(f"Not in it: {'; '.join(left)}.")
    return 0


def _left_behind(bench: Bench) -> list[str]:
    """Name what the bench holds beside its tables."""
    from pairing.blind.kept import open_checks

    kept = bench.settings
    options = " ".join(f"--{name.replace('_', '-')} {value}" for name, value in kept.items())
    left = [f"the settings (pairing init {options})"]
    checks = open_checks(bench)
    if checks:
        left.append(f"blind checks in hand ({', '.join(checks)})")
    if cups := len(bench.list_drafts()) - len(checks):
        left.append(f"{cups} cup{'' if cups == 1 else 's'} in hand")
    folder = bench.plugin_folder
    if folder is not None and (files := sorted(path.name for path in folder.glob("*.py"))):
        left.append(f"plugin files ({', '.join(files)})")
    return left
