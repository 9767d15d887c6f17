"""Commands that plugins bring: looked for only when a word is none of the tool's own commands."""

from __future__ import annotations

import argparse
import io
import json
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import add_common, bench_path, open_bench
from pairing.cli.kept_commands import keep_commands
from pairing.cli.names import ALIASES, COMMANDS
from pairing.cli.output import Output
from pairing.running import apart, lent

if TYPE_CHECKING:
    from pairing.api import Command
    from pairing.host import Host

__all__ = ["add_plugin_command", "remember", "unusable"]


def add_plugin_command(commands: Any, asked: str, words: Sequence[str], *, for_good: bool) -> None:
    """Add the command of that name if a plugin brings one, and keep which there are for the help.

    Parameters
    ----------
    commands : subparsers of argparse
    asked : str
        The word that is none of the tool's own commands.
    words : sequence of str
        The whole command line.
    for_good : bool
        See `pairing.running.apart`.
    """
    from pairing.host import load

    options = argparse.ArgumentParser(add_help=False, exit_on_error=False)
    add_common(options)
    given, _ = options.parse_known_args([word for word in words if word != asked and word not in ("-h", "--help")])
    folder = Path(bench_path(given))
    with apart(for_good=for_good):
        loaded = load(folder if folder.is_dir() else None, given.plugins, given.strict_plugins)
        remember(folder, loaded)
        _add(loaded, commands, asked)


def remember(folder: Path, loaded: Host) -> None:
    """Keep the plugins' commands within reach, for the help."""
    taken = (*COMMANDS, *ALIASES)
    keep_commands(folder, ((c.name, c.summary) for _, c in loaded.commands if c.name not in taken))


def _add(loaded: Host, commands: Any, asked: str) -> None:
    from pairing.host.guard import attempt

    for plugin, command in loaded.commands:
        if command.name == asked:
            told = command.summary.replace("%", "%%")  # argparse fills in what stands behind one
            parser = commands.add_parser(asked, help=told, description=told)
            add_common(parser)
            about: Any = {"plugin": plugin, "stage": "command", "subject": asked}
            attempt(partial(command.add_arguments, parser), strict=True, **about)
            parser.set_defaults(run=partial(_run, plugin, command))
            return
    for fault in loaded.faults:
        if fault.stage == "trust":  # the command may be one of theirs
            Output().warn(fault.line)


def _run(plugin: str, command: Command, args: argparse.Namespace, out: Output) -> int:
    from pairing.host.fields import takes
    from pairing.host.guard import attempt

    handed = (args, open_bench(args), out) if takes(command.run, 3) else (args,)
    printed = io.StringIO() if out.json else None
    with lent(printed):
        code, fault = attempt(partial(command.run, *handed), plugin=plugin, stage="command", subject=command.name)
    if printed is not None:
        _into_document(printed.getvalue(), out)
    if fault is not None:
        out.warn(fault.line)
        return 1
    return int(code or 0)


def _into_document(text: str, out: Output) -> None:
    """Put what a command printed into the JSON document: its own document, or its lines as ``printed``."""
    try:
        found = json.loads(text)
    except ValueError:
        found = text.splitlines()
    for name, value in (found if isinstance(found, dict) else {"printed": found} if found else {}).items():
        out.value(name, value)


def unusable(loaded: Host) -> Iterator[str]:
    """Say which plugin commands cannot be reached, since their name is taken."""
    taken = dict.fromkeys((*COMMANDS, *ALIASES), "the tool itself")
    for plugin, command in loaded.commands:
        if command.name in taken:
            yield f"plugin {plugin}: command {command.name} is out of reach: the name is taken by {taken[command.name]}"
        else:
            taken[command.name] = f"plugin {plugin}"
