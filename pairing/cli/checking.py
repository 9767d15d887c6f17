"""Trying a plugin file before it is trusted: the option ``--check`` of ``pairing plugins``."""

from __future__ import annotations

import argparse
import importlib.util
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import bench_path
from pairing.errors import PluginError

if TYPE_CHECKING:
    from pairing.cli.output import Output

__all__ = ["tell_check"]

LONGEST = 600


def tell_check(args: argparse.Namespace, out: Output) -> int:
    """Run the contract in a process of its own and show what came of it; 1 when something is broken.

    Raises
    ------
    PluginError
        When the file is not there, or pytest is not.
    """
    if importlib.util.find_spec("pytest") is None:
        raise PluginError("the contract is run by pytest, which is not installed", "python -m pip install pytest")
    from pairing.testing.check import check_file

    file = Path(args.check)
    found = check_file(file, _settings(Path(bench_path(args)), file))
    broken = [one for one in found if one.result == "broken"]
    out.value("ok", not broken)
    columns = [("test", "what is held"), ("result", "result"), ("found", "found", lambda text: text[:LONGEST])]
    rows = [vars(one) for one in found]
    told = {one.found: one.test for one in reversed(found)}
    shown = [
        r | {"found": f"as above: {first}"} if r["found"] and (first := told[r["found"]]) != r["test"] else r
        for r in rows
    ]
    out.table("contract", rows, columns, shown=shown, title=f"The contract of {file.name}")
    verdict = f"{len(broken)} of {len(found)} broken: mend them first" if broken else "it keeps to the contract"
    out.say(f"{file.name}: {verdict}. It ran in a process of its own and is trusted no more than before.")
    return 1 if broken else 0


def _settings(bench_folder: Path, file: Path) -> Mapping[str, Any]:
    """Return the plugin's settings in the bench that it may be for."""
    from pairing.host import load
    from pairing.host.find import plugin_name

    host = load(bench_folder, only=()) if bench_folder.is_dir() else load(only=())
    return host.given.get(plugin_name(file.stem), {})
