"""Answer once what stands on labels: what is meant for food, and what a name suggests.

After reading the labels: pairing shelf food-use yes states it for every flavouring that does not say so yet; pairing
shelf label-read bitter-almond --max '0.4 g/kg' answers what the name of a bottle suggests, with the supplier's maximum.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from pairing.cli.common import add_common, ids, open_bench
from pairing.cli.output import Output
from pairing.errors import QuantityError, first_few
from pairing.quantities.directions import parse_direction
from pairing.safety.names import LABEL_READ

if TYPE_CHECKING:
    from pairing.bench import Bench


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
    for action in (food, read):
        add_common(action, again=True)


def run(args: argparse.Namespace, out: Output) -> int:
    """Write what the labels say."""
    bench = open_bench(args)
    return _food_use(args, bench, out) if args.action == "food-use" else _label_read(args, bench, out)


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
    out.say("To take it back: pairing undo")
    return 0


def _maximum(text: str) -> float:
    """Read a maximum dose; a number without its unit is none."""
    if not any(sign.isalpha() or sign in "%‰" for sign in text):
        raise QuantityError(
            f"a maximum of {text!r} has no unit", "write it with its unit, such as '0.4 g/kg' or '200 ppm'"
        )
    return float(parse_direction(text).low)
