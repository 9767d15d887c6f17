"""Commands that plugins bring: looked for only when a word is none of the tool's own commands."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import add_common, bench_path
from pairing.cli.names import ALIASES, COMMANDS
from pairing.cli.output import Output

if TYPE_CHECKING:
    from pairing.api import Command
    from pairing.host import Host

__all__ = ["add_plugin_command", "unusable"]


def add_plugin_command(commands: Any, asked: str, words: Sequence[str]) -> None:
    """Add the command of that name if a plugin brings one.

    Parameters
    ----------
    commands : subparsers of argparse
    asked : str
        The word that is none of the tool's own commands.
    words : sequence of str
        The whole command line.
    """
    from pairing.host import load
    from pairing.host.guard import attempt

    options = argparse.ArgumentParser(add_help=False, exit_on_error=False)
    add_common(options)
    given, _ = options.parse_known_args([word for word in words if word != asked and word not in ("-h", "--help")])
    folder = Path(bench_path(given))
    loaded = load(folder if folder.is_dir() else None, given.plugins, given.strict_plugins)
    for plugin, command in loaded.commands:
        if command.name == asked:
            parser = commands.add_parser(asked, help=command.summary, description=command.summary)
            add_common(parser)
            about = {"plugin": plugin, "stage": "command", "subject": asked}
            attempt(partial(command.add_arguments, parser), strict=True, **about)
            parser.set_defaults(run=partial(_run, plugin, command))
            return
    for fault in loaded.faults:
        if fault.stage == "trust":  # the command may be one of theirs
            Output().warn(fault.line)


def _run(plugin: str, command: Command, args: argparse.Namespace, out: Output) -> int:
    from pairing.host.guard import attempt

    code, fault = attempt(partial(command.run, args), plugin=plugin, stage="command", subject=command.name)
    if fault is not None:
        out.warn(fault.line)
        return 1
    return int(code or 0)


def unusable(loaded: Host) -> Iterator[str]:
    """Say which plugin commands cannot be reached, since their name is taken."""
    taken = dict.fromkeys((*COMMANDS, *ALIASES), "the tool itself")
    for plugin, command in loaded.commands:
        if command.name in taken:
            yield f"plugin {plugin}: command {command.name} is out of reach: the name is taken by {taken[command.name]}"
        else:
            taken[command.name] = f"plugin {plugin}"
