"""The tool's own commands, each with what it is for; the help is made of these lines."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["ALIASES", "COMMANDS", "module_of"]

COMMANDS: Mapping[str, str] = MappingProxyType(
    {
        "demo": "see it work on an invented kitchen",
        "init": "make a new, empty bench",
        "load": "load tables: bases, flavourings, readings and the others",
        "suggest": "suggest what to try next, with doses, energy, cost and reasons",
        "evening": "plan an evening: cups in order, rests, and how much everybody takes",
        "season": "season a base before any aroma, and keep it as a version of the base",
        "dose": "the dose that a base needs, or the next addition to a cup",
        "log": "log a cup: additions, sips and readings, in one line",
        "undo": "take back the last write, or show a trial's history",
        "calibrate": "weigh drops: mg per drop of a bottle, with its interval",
        "recipe": "keep recipes by name, list and show them, and what their versions were",
        "stock": "what is left of every lot, whether it is enough, and weighing bottles",
        "compare": "recipes or bases side by side, or the round-up of a family",
        "graph": "what goes with what: partners, stand-ins, groups, gaps, files and a picture",
        "off-notes": "which off-notes are to be expected, by base or recipe, and how sure that is",
        "replace": "what can stand in for a bottle, in which recipes, at what dose",
        "card": "a recipe card for one cup to 20 litres, or the report of a period",
        "blind": "blind checks: plan, sheets, answers, result",
        "lesson": "how sure a tongue is: five coded cups, ten minutes",
        "evaluate": "how good the predictions are on cups that were held out",
        "plugins": "show plugins, their state, and what the log made of their rules",
        "new-plugin": "start a plugin of your own, of any kind, from a working example",
        "dashboard": "open the dashboard in the browser",
        "export": "write all tables to a folder or a spreadsheet",
        "backup": "copy the bench to a folder while it is in use",
        "merge": "take in another bench of the same person or team",
        "pool": "give cups to a pool of kitchens, learn from one, adopt what others know",
        "erase-taster": "erase a person's name and facts for good; the cups stay",
        "shelf": "answer what stands on labels: what is food, and what names suggest",
        "settings": "show or change scale, currency, food law and the measures that amounts are said in",
        "bench-check": "look over the bench and this installation",
    }
)


ALIASES: Mapping[str, str] = MappingProxyType({"doctor": "bench-check"})
"""Earlier names that go on working, and what they are called now; the help does not list them."""


def module_of(command: str) -> str:
    """Name the module of a command.

    Examples
    --------
    >>> module_of("new-plugin")
    'pairing.cli.new_plugin'
    """
    command = ALIASES.get(command, command)
    return f"pairing.cli.{command.replace('-', '_')}"
