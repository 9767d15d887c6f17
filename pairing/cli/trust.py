"""Saying yes to the plugin files of a bench: the options, and what is said of it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from pairing.cli.common import bench_path
from pairing.errors import PluginError, first_few
from pairing.store.database import is_url

if TYPE_CHECKING:
    from pairing.cli.output import Output

__all__ = ["add_trust", "tell_trust"]


def add_trust(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    about = "let the files in the bench's plugin folder run on this machine, as they are now; read them first"
    parser.add_argument("--trust", action="store_true", help=about)
    about = "while you write them: let them run whatever they become, until this process ends"
    parser.add_argument("--editing", action="store_true", help=about)


def tell_trust(args: argparse.Namespace, out: Output) -> str:
    """Trust what is in the bench's plugin folder, name it, and return the folder.

    Raises
    ------
    PluginError
        When there is no such folder, or it cannot be hashed.
    """
    from pairing.host import trust

    path = bench_path(args)
    if is_url(path):
        raise PluginError("a bench on a server has no plugin folder", "install the plugin as a package")
    folder = trust(path, editing=args.editing)
    files = sorted(str(file.relative_to(folder)) for file in folder.rglob("*") if file.is_file())
    out.value("trusted", files)
    until = "whatever becomes of it, until this process ends" if args.editing else "as it is now; a change asks again"
    out.say(f"Trusted: what is in {folder} ({first_few(files, 8) or 'nothing yet'}), {until}.")
    return str(folder)
