"""Write a new plugin that works as it stands: an installable package, or one file for this bench."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from pairing.cli.common import bench_path
from pairing.errors import PluginError
from pairing.scaffold.kinds import KINDS
from pairing.store.database import is_url

if TYPE_CHECKING:
    from pairing.cli.output import Output


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("name", help="name of the plugin, such as salt-and-smoke")
    parser.add_argument("--kind", choices=KINDS, default="rule", help="what the example brings (rule)")
    parser.add_argument(
        "--file", action="store_true", help="one file in the bench's plugins folder, nothing to install"
    )
    parser.add_argument("--into", metavar="FOLDER", default=".", help="where the package's folder is made (here)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Write the files and say what to do next."""
    from pairing.host import trust
    from pairing.host.trusted import how_to_trust, may_trust_next
    from pairing.scaffold.write import write_file, write_package

    if args.file:
        if is_url(bench_path(args)):
            raise PluginError("a bench on a server has no plugin folder", "write a package: leave --file out")
        bench = Path(bench_path(args))
        if not bench.is_dir():
            raise PluginError(f"no bench folder at {bench}", "name it by --bench, or make one: pairing init")
        ours = may_trust_next(bench)
        files = write_file(args.name, args.kind, bench)
        if ours:
            trust(bench)
    else:
        files = write_package(args.name, args.kind, Path(args.into))
    out.value("files", [str(path) for path in files])
    for path in files:
        out.say(f"wrote {path}")
    if args.file and ours:
        out.say(f"It is loaded with this bench from now on: pairing plugins --bench {bench_path(args)}")
    elif args.file:
        out.say(f"It does not run yet, for others in its folder are not trusted: {how_to_trust(bench)}")
    else:
        folder = files[0].parent
        out.say(f"Next: python -m pip install --no-deps -e {folder}, then pairing plugins; its README says the rest.")
    return 0
