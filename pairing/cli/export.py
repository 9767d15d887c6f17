"""Write all tables to a folder of CSV files or to one spreadsheet; loading them back gives the same tables.

Settings (currency, food law, scale), an adopted prior, blind checks and cups in hand go along with --everything; plugin
files stay here.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from pairing.blind.in_hand import cups_in_hand, open_checks
from pairing.cli.common import bench_path, named, open_bench
from pairing.cli.output import Output
from pairing.errors import StoreError
from pairing.store.database import FILE_NAME, is_url, shown

if TYPE_CHECKING:
    from pairing.bench import Bench


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where to."""
    parser.add_argument("to", type=named, metavar="PATH", help="a folder for CSV files, or a file ending in .xlsx")
    parser.add_argument(
        "--everything", action="store_true", help="settings, an adopted prior, cups and checks in hand, too"
    )
    about = "write what can still be read of a damaged file, and name what cannot"
    parser.add_argument("--salvage", action="store_true", help=about)


def run(args: argparse.Namespace, out: Output) -> int:
    """Export; 1 when something of a damaged file is lost."""
    if args.salvage:
        return _salvage(args, out)
    bench = open_bench(args)
    left = _left_behind(bench, args.everything)
    with out.progress("Exporting"):
        bench.export(args.to, everything=args.everything)
    out.value("exported_to", args.to)
    out.value("left_behind", left)
    out.say(f"All tables are written to {args.to}")
    if left:
        out.say(f"Not in it: {'; '.join(left)}.")
    return 0


def _salvage(args: argparse.Namespace, out: Output) -> int:
    """Make a bench of what can be read, and export that."""
    from pairing.bench import Bench
    from pairing.store.salvage import salvage

    place = bench_path(args)
    file = Path(place) / FILE_NAME
    if is_url(place) or not file.is_file():
        raise StoreError(f"{shown(place)} is no folder with a {FILE_NAME}", "a server looks after its own")
    with tempfile.TemporaryDirectory() as folder, out.progress("Reading what can be read"):
        losses = salvage(file, Path(folder) / "salvaged")
        Bench.open(Path(folder) / "salvaged").export(args.to, everything=True)
    rows = [loss._asdict() for loss in losses]
    out.value("exported_to", args.to)
    out.say(
        f"What could be read of {file} is written to {args.to}; load it into a new bench: pairing init, pairing load"
    )
    columns = [("table", "table"), ("first", "from row"), ("last", "to row"), ("reason", "why")]
    out.table("lost", rows, columns, title="Lost", empty="nothing")
    return 1 if losses else 0


def _left_behind(bench: Bench, everything: bool) -> list[str]:
    """Name what the bench holds beside its tables."""
    left = []
    if not everything:
        options = " ".join(f"--{name.replace('_', '-')} {value}" for name, value in bench.settings.items())
        left.append(f"the settings (pairing init {options})")
        checks = open_checks(bench)
        if checks:
            left.append(f"blind checks in hand ({', '.join(checks)})")
        if bench.adopted_bytes is not None:
            left.append("the adopted prior (pairing pool show)")
        if cups := cups_in_hand(bench):
            left.append(f"{cups} cup{'' if cups == 1 else 's'} in hand")
    folder = bench.plugin_folder
    if folder is not None and (files := sorted(path.name for path in folder.glob("*.py"))):
        left.append(f"plugin files ({', '.join(files)})")
    return left
