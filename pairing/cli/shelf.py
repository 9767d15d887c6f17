"""Answer once what stands on labels: what is meant for food, and what a name suggests.

After reading the labels: pairing shelf food-use yes states it for every flavouring that does not say so yet; pairing
shelf label-read bitter-almond --max '0.4 g/kg' answers what the name of a bottle suggests, with the supplier's maximum.
What no label says: pairing shelf find milk cow --fill dairy.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from pairing.cli.common import add_common, count, ids, open_bench
from pairing.cli.output import Output
from pairing.errors import QuantityError, UnknownIdError, first_few
from pairing.nutrition.names import EVERYBODY, LABEL_READ, never_for
from pairing.quantities.directions import parse_direction

if TYPE_CHECKING:
    from pairing.api import Composition
    from pairing.bench import Bench

_MOST = 8
"""Entries that are shown (our choice)."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    about = "state after reading the labels whether flavourings are meant for food: only these are suggested"
    food = actions.add_parser("food-use", help=about, description=about)
    food.add_argument("food_use", choices=("yes", "no", "unknown"), help="what the labels say")
    food.add_argument("flavourings", nargs="?", type=ids, metavar="A,B", help="which (all that do not say so yet)")
    about = "answer what the name of a flavouring or base suggests: the label was read"
    read = actions.add_parser("label-read", help=about, description=about)
    read.add_argument("item", metavar="ID", help="a flavouring or a base")
    read.add_argument(
        "--max", metavar="DOSE", help="the supplier's maximum with its unit, such as '0.4 g/kg' or '200 ppm'"
    )
    about = "look a drink or foodstuff up by name in open composition tables, and fill what a base's label leaves out"
    find = actions.add_parser("find", help=about, description=about)
    find.add_argument("text", nargs="+", metavar="TEXT", help="such as oat drink: every word has to be in the name")
    find.add_argument("--fill", metavar="BASE", help="write the entry into the empty cells of this base")
    find.add_argument("--entry", type=count, default=1, metavar="N", help="which entry, as it is numbered (1)")
    for action in (food, read, find):
        add_common(action, again=True)


def run(args: argparse.Namespace, out: Output) -> int:
    """Write what the labels say."""
    bench = open_bench(args)
    if args.action == "find":
        return _find(args, bench, out)
    return _food_use(args, bench, out) if args.action == "food-use" else _label_read(args, bench, out)


def _find(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    found = bench.look_up(" ".join(args.text))
    if not found:
        raise UnknownIdError(f"no table has {' '.join(args.text)!r}", "ask with fewer words, or in English")
    rows = [
        {
            "number": number if column == 0 else "",
            "name": entry.name if column == 0 else "",
            "value": f"{name} {value:.4g}{_range(entry, name)}",
            "source": entry.source if column == 0 else "",
        }
        for number, entry in enumerate(found[:_MOST], start=1)
        for column, (name, value) in enumerate(entry.values.items())
    ]
    columns: list[Any] = [("number", "#"), ("name", "name"), ("value", "value (range)"), ("source", "source")]
    out.table("compositions", [_plain(entry) for entry in found], columns, shown=rows, title="As the tables have it")
    if len(found) > _MOST:
        out.say(f"{len(found) - _MOST} more: ask with more words.")
    if args.fill is None:
        out.say("To fill what the label of a base leaves out: --fill BASE --entry N")
        return 0
    if args.entry > len(found):
        raise QuantityError(f"--entry {args.entry} is none of {len(found)}", f"give 1 to {len(found)}")
    filled = bench.fill(args.fill, found[args.entry - 1])
    out.value("filled", filled)
    out.say(f"Filled of {args.fill}: {', '.join(filled)}. What its label said stays. To take it back: pairing undo")
    return 0


def _plain(entry: Composition) -> dict[str, Any]:
    return {"name": entry.name, "source": entry.source, "values": dict(entry.values), "ranges": dict(entry.ranges)}


def _range(entry: Composition, name: str) -> str:
    if name not in entry.ranges:
        return ""
    low, high = entry.ranges[name]
    return f" ({low:.4g}–{high:.4g})"


def _food_use(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    written = bench.declare_food_use(args.food_use, args.flavourings)
    out.value("food_use", args.food_use)
    out.value("flavourings", written)
    if not written:
        out.say("Nothing to change: every flavouring says so already.")
        return 0
    out.say(f"food_use is {args.food_use} for {first_few(written)}. To take it back: pairing undo")
    return 0


def _label_read(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    shelf = bench.shelf()
    args.item = shelf.item_id(args.item)
    is_base = args.item in shelf.bases
    item = shelf.base(args.item) if is_base else shelf.flavouring(args.item)
    changes: dict[str, Any] = {"tags": ";".join(sorted({*(item.tags or ()), LABEL_READ}))}
    if args.max is not None:
        if is_base:
            raise QuantityError(f"{args.item} is a base: a maximum dose is a flavouring's", "leave --max out")
        changes["max_dose_g_per_kg"] = _maximum(args.max)
    bench.correct("bases" if is_base else "flavourings", args.item, changes)
    out.value("item", args.item)
    out.value("changes", changes)
    most = f", at most {changes['max_dose_g_per_kg']:.4g} g/kg" if args.max is not None else ""
    out.say(f"The label of {args.item} is read{most}: what its name suggests is not asked again.")
    read = bench.shelf()
    for hint in never_for(read.bases.get(args.item) or read.flavouring(args.item), read).get(EVERYBODY, ()):
        out.say(f"It is never suggested all the same: what is written about it suggests {hint.about}.")
    out.say("To take it back: pairing undo")
    return 0


def _maximum(text: str) -> float:
    """Read a maximum dose; a number without its unit is none."""
    if not any(sign.isalpha() or sign in "%‰" for sign in text):
        raise QuantityError(
            f"a maximum of {text!r} has no unit", "write it with its unit, such as '0.4 g/kg' or '200 ppm'"
        )
    return float(parse_direction(text).low)
