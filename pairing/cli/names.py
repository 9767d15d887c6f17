"""The tool's own commands and their modules."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

__all__ = ["COMMANDS"]

_NAMES = (
    "demo",
    "init",
    "load",
    "suggest",
    "dose",
    "log",
    "undo",
    "calibrate",
    "compare",
    "graph",
    "card",
    "blind",
    "evaluate",
    "plugins",
    "new-plugin",
    "dashboard",
    "export",
    "doctor",
)
_FILES = {name: Path(__file__).with_name(name.replace("-", "_") + ".py") for name in _NAMES}

COMMANDS: Mapping[str, str] = MappingProxyType(
    {name: f"pairing.cli.{file.stem}" for name, file in _FILES.items() if file.exists()}
)
"""Module of each command, by name, in the order in which the help lists them."""
