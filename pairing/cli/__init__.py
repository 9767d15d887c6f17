"""The commands: one file each, found by name and imported only when asked for.

A command module has ``add_arguments(parser)`` and ``run(args, out) -> int`` (0 done, 1 refused); its docstring is its
help. It imports heavy libraries inside ``run``, prints through ``out`` (:class:`pairing.cli.output.Output`), and
gets ``args.bench``, ``args.json``, ``args.plugins`` and ``args.strict_plugins`` without declaring them
(:func:`pairing.cli.common.open_bench` reads them). It raises :class:`~pairing.errors.PairingError` to refuse: the
caller prints message and hint.
"""

from __future__ import annotations

from pairing.cli.entry import main
from pairing.cli.names import COMMANDS

__all__ = ["COMMANDS", "main"]
