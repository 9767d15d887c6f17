"""The options of a brief: what is wanted, for whom, within what."""

from __future__ import annotations

import argparse
from typing import Any

from pairing.cli.common import ids, number_in, whole

__all__ = ["add_brief_options", "brief_given"]

_LISTS = {
    "bases": "bases to flavour",
    "tasters": "who drinks it; nobody's allergens and dislikes reach the cup",
    "must_have": "flavourings in every suggestion",
    "never": "flavourings in none",
    "on_hand": "flavourings within reach: only these",
    "avoid_allergens": "allergens that may not be in it, such as milk,gluten",
}
_NUMBERS = {
    "max_added_kcal": "kcal that the flavourings may add to a serving",
    "max_total_kcal": "kcal of a serving in all",
    "max_added_cost": "cost of the flavourings in a serving",
    "max_ethanol_pct_vv": "alcohol of the finished drink, %% by volume",
    "temperature_c": "temperature at which it is drunk, °C, for rules that ask",
    "serving_g": "base in a serving, g (the base's own serving, else 250)",
}


def add_brief_options(parser: argparse.ArgumentParser) -> None:
    """Declare the lists and the limits of a brief."""
    for name, about in _LISTS.items():
        parser.add_argument(_option(name), type=ids, metavar="A,B", help=about)
    for name, about in _NUMBERS.items():
        parser.add_argument(_option(name), type=number_in(name), metavar="X", help=about)
    parser.add_argument("--max-flavourings", type=whole, default=2, metavar="N", help="1 to 6 (2)")


def brief_given(args: argparse.Namespace, *more: str) -> dict[str, Any]:
    """Return the fields of a brief that were given, and ``more`` that a command has beside them."""
    names = (*_LISTS, *_NUMBERS, "max_flavourings", *more)
    return {name: getattr(args, name) for name in names if getattr(args, name) is not None}


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")
