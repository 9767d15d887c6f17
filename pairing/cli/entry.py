"""From the words on the command line to a command and its exit code."""

from __future__ import annotations

import argparse
import gc
import importlib
import os
import re
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn, Protocol

from pairing.cli.common import WrongUsage, add_common
from pairing.cli.extra import add_plugin_command
from pairing.cli.kept_commands import kept_commands
from pairing.cli.names import ALIASES, COMMANDS, module_of
from pairing.cli.output import Output
from pairing.errors import PairingError, StoppedInPlugin, nearest, or_else
from pairing.running import answer, apart, left_running, telling_waits
from pairing.store.places import default_place
from pairing.version import __version__

__all__ = ["CommandModule", "main"]


class CommandModule(Protocol):
    """What a command module offers; a plugin's command has the same shape."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the command's own arguments."""

    def run(self, args: argparse.Namespace, out: Output) -> int:
        """Do it; 0 is done, 1 is refused."""


class _Parser(argparse.ArgumentParser):
    """A parser that says in two lines what is wrong and where the help is."""

    def _print_message(self, message: str, file: Any = None) -> None:
        super()._print_message(message, answer() if file is sys.stdout else file)

    def error(self, message: str) -> NoReturn:
        where = f"see {self.prog} --help"
        if found := re.fullmatch(r"(.*invalid choice: '?(.*?)'?) \(choose from (.*)\)", message, re.DOTALL):
            message, word, choices = found.groups()
            where = or_else(nearest(word, [c.strip(" '") for c in choices.split(",")]), f"or {where}")
        elif re.match(r"unrecognized arguments: [^-]", message):
            where = f"put what belongs to no option right after the command, before the options, or {where}"
        raise WrongUsage(f"{self.prog}: {message}", where)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 1 refused, 2 wrong usage."""
    with telling_waits():
        return _main(argv)


def _main(argv: Sequence[str] | None) -> int:
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None:
        gc.set_threshold(100_000)  # libraries make as many objects, and they stay: searching them took 7 % of suggest
        if "PAIRING_TRACE" not in os.environ:
            sys.excepthook = _tell_fault
    try:
        parser = _parser(words, for_good=argv is None)
        if not words:
            parser.print_help(sys.stderr)
            raise SystemExit(2)
        args = parser.parse_args(words)
    except WrongUsage as error:
        Output(json="--json" in words).refuse(error)
        raise SystemExit(2) from None
    except PairingError as error:  # of a plugin, asked for a command of its own
        Output(json="--json" in words).refuse(error)
        return 1
    except KeyboardInterrupt as stopped:
        Output(json="--json" in words).refuse(_stopped(stopped))
        return 1
    with apart(for_good=argv is None):
        out = Output(json=args.json)
        code = _run(args, out)
        for thread, plugin in left_running().items() if argv is None else ():
            out.warn(f"plugin {plugin}: its thread {thread!r} keeps the program from ending: stop it with Ctrl+C")
    return code


def _run(args: argparse.Namespace, out: Output) -> int:
    """Run a command and return its exit code, telling what stopped it."""
    try:
        with out.hearing():
            code = int(args.run(args, out) or 0)
        out.close()
    except PairingError as error:
        out.refuse(error)
        if isinstance(error, WrongUsage):
            raise SystemExit(2) from None
        return 1
    except KeyboardInterrupt as stopped:
        out.refuse(_stopped(stopped))
        return 1
    except BrokenPipeError:  # the reader (head, less) has gone: nothing to tell anyone
        os.dup2(os.open(os.devnull, os.O_WRONLY), answer().fileno())
        return 0
    except OSError as error:
        out.refuse(PairingError(str(error), "check that the path exists, may be written, and has room left"))
        return 1
    return code


def _stopped(pressed: KeyboardInterrupt) -> PairingError:
    """Say that Ctrl+C was pressed, and what ran then."""
    kept = "what was logged before is kept; run it again to go on"
    if isinstance(pressed, StoppedInPlugin):
        return PairingError(f"stopped while {pressed} ran", f"{kept}, or with --plugins and the names of others")
    return PairingError("stopped", kept)


def _tell_fault(kind: type[BaseException], fault: BaseException, trace: object) -> None:
    """Say that the program itself is at fault, without a trace that nobody asked for."""
    last = traceback.extract_tb(fault.__traceback__)[-1:]
    where = f" at {Path(last[0].filename).name}:{last[0].lineno}" if last else ""
    print(f"A fault of the program, not of yours: {kind.__name__}{where}: {fault}", file=sys.stderr)
    print(
        "What to do: nothing logged is lost; run it again with PAIRING_TRACE=1 and report what it prints",
        file=sys.stderr,
    )


def _parser(words: Sequence[str], *, for_good: bool) -> argparse.ArgumentParser:
    """Make the parser; only the module of the command that was asked for is imported."""
    parser = _Parser(
        prog="pairing",
        description="Flavour plain drink bases: log cups, learn doses and pairings, ask what to try next.",
        epilog="pairing COMMAND --help explains one command; pairing demo shows it all on an invented kitchen.",
    )
    parser.add_argument("--version", action="version", version=f"pairing {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    asked = next((word for word in words if not word.startswith("-")), None)
    for name, summary in COMMANDS.items():
        sub = commands.add_parser(name, help=summary)
        if name == asked:
            _add(sub, importlib.import_module(module_of(name)))
    if asked is not None and asked in ALIASES:
        _add(commands.add_parser(asked), importlib.import_module(module_of(asked)))
    elif asked is None:
        for name, summary in kept_commands(default_place()).items():
            if name not in COMMANDS:
                commands.add_parser(name, help=f"{summary} (plugin)")
    elif asked not in COMMANDS:
        add_plugin_command(commands, asked, words, for_good=for_good)
    return parser


def _add(sub: argparse.ArgumentParser, module: CommandModule) -> None:
    sub.description = module.__doc__
    add_common(sub)
    module.add_arguments(sub)
    sub.set_defaults(run=module.run)
