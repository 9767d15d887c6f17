"""What is left of every lot, whether that is enough for a batch, and weighing bottles.

Stock: pairing stock. For a batch: pairing stock --for 'oat|quince=1.6' 'pea|plum=2' --litres 20 (of each). A bottle on
the scale, with what is in it: pairing stock weigh quince 48.3 --lot A. A lot that is named, in a cup or on the scale,
is the one in use from then on. As bought: pairing stock buy quince '30 ml' --price 12.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pairing.cli.common import add_common, grams_above_zero, learn, named, number, number_in, open_bench
from pairing.cli.output import Output
from pairing.cli.recipes import money
from pairing.cli.which import read_recipe
from pairing.quantities.readable import readable
from pairing.report.lots import FLAGS, about_g, lot_lines

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.stock.shopping import Need

_FACTS = {
    "lot": "what this one is called (numbered)",
    "made_at": "day on which it was mixed here",
    "bought_at": "day on which it was bought (today)",
    "opened_at": "day on which it was opened",
    "best_before": "best before",
    "use_by": "use by: past that day it is stopped",
    "note": "anything else",
}
_MARKS = {
    "open": ("opened_at", "say that a bottle was opened"),
    "empty": ("emptied_at", "say that a bottle is empty"),
}
"""What is written of a lot by each action."""
_NUMBERS = {"price": "of the whole, in the bench's currency", "tare_g": "the empty bottle, g"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the batch that is asked for, and what can happen to a bottle."""
    about = "what these take: base|flavouring=dose;… in g/kg, a kept recipe, a trial"
    parser.add_argument("--for", dest="recipes", nargs="+", metavar="RECIPE", default=(), help=about)
    parser.add_argument("--litres", type=number_in("l"), default=1.0, metavar="N", help="litres of base of each (1)")
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    weigh = actions.add_parser("weigh", help="settle what a lot holds", description="Settle what a lot holds.")
    add_common(weigh, again=True)
    weigh.add_argument("item", type=named, metavar="ITEM", help="the flavouring or base")
    weigh.add_argument("gross_g", type=grams_above_zero, metavar="GRAMS", help="bottle and what is in it, g")
    weigh.add_argument("--lot", help="which bottle (the one in use)")
    weigh.add_argument("--at", metavar="TIME", help="when it was weighed, YYYY-MM-DD HH:MM (now)")

    buy = actions.add_parser("buy", help="enter a bottle or bag as bought", description="Enter a bottle or bag.")
    add_common(buy, again=True)
    buy.add_argument("item", type=named, metavar="ITEM", help="the flavouring or base")
    buy.add_argument("size", metavar="SIZE", help="as sold: '30 ml', '1 kg'")
    for name, about in _FACTS.items():
        buy.add_argument(
            "--" + name.replace("_", "-"), metavar="TEXT" if name in ("lot", "note") else "DAY", help=about
        )
    for name, about in _NUMBERS.items():
        read = _price if name == "price" else number
        buy.add_argument("--" + name.replace("_", "-"), type=read, metavar="X", help=about)

    for name, (_, about) in _MARKS.items():
        mark = actions.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
        add_common(mark, again=True)
        mark.add_argument("item", type=named, metavar="ITEM", help="the flavouring or base")
        mark.add_argument("--lot", help="which bottle (the one in use)")
        mark.add_argument("--at", metavar="DAY", help="when, YYYY-MM-DD (today)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Show, reckon, or enter what happened to a bottle."""
    bench = open_bench(args)
    if args.action == "weigh":
        return _weigh(args, bench, out)
    if args.action == "buy":
        return _buy(args, bench, out)
    if args.action in _MARKS:
        return _mark(args, bench, out)
    return _shopping(args, bench, out) if args.recipes else _show(args, bench, out)


def _weigh(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    held = bench.weigh(args.item, args.gross_g, args.lot, args.at)
    args.item = held.lot.item_id
    out.value("held", {"item_id": args.item, "lot": held.lot.lot, "held_g": held.held_g, "weighed_at": held.weighed_at})
    out.say(f"Lot {held.lot.lot} of {args.item} holds {about_g(held.held_g)}. To take it back: pairing undo")
    return 0


def _price(text: str) -> float:
    """Read an amount of money, with or without a currency: 12, '12 EUR', '€12'."""
    return number(re.sub(r"^\s*[A-Z]{3}\b|[A-Z]{3}\s*$|[€$£]", "", text))


def _buy(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    facts = {name: value for name in (*_FACTS, *_NUMBERS) if (value := getattr(args, name)) is not None}
    lot = bench.buy(args.item, args.size, **facts)
    args.item = lot.item_id
    out.value("lot", lot)
    out.say(f"Entered: lot {lot.lot} of {args.item}, {lot.size}. To take it back: pairing undo")
    return 0


def _mark(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    lot = bench.mark_lot(args.item, _MARKS[args.action][0], args.lot, args.at)
    args.item = lot.item_id
    out.value("lot", lot)
    out.say(f"Lot {lot.lot} of {args.item} is {args.action}. To take it back: pairing undo")
    return 0


def _show(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    table = bench.stock()
    rows = table.astype(object).where(table.notna(), None).to_dict("records")
    columns: list[Any] = [
        ("name", "item"),
        ("lot", "lot"),
        ("left", "left"),
        ("use", ""),
        ("best_before", "best before"),
        ("use_by", "use by"),
        ("weighed", "weighed"),
    ]
    shown: list[dict[Any, Any]] = [
        {
            **row,
            "left": about_g(row["held_g"], most="unknown amounts" in row["flags"]),
            "use": "emptied" if row["emptied_at"] else "in use" if row["in_use"] else "",
            "weighed": (row["weighed_at"] or "")[:10],
        }
        for row in rows
    ]
    title = "Stock, as cups drew on it and the scale settled it"
    out.table("stock", table, columns, shown=shown, title=title, empty="nothing: load lots, or stock_g of flavourings")
    for row in rows:
        for flag in row["flags"]:
            out.say(f"  {row['name']}, lot {row['lot']}: {FLAGS[flag]}.")
    if bench.holds("readings", "lot"):
        model = learn(args, bench, out)
        out.value("lot_strength", model.lot_strength())
        for line in lot_lines(model):
            out.say(f"  {line}.")
    return 0


def _shopping(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    recipes = [read_recipe(text, bench, lambda: learn(args, bench, out)) for text in args.recipes]
    needs = bench.shopping_list(recipes, args.litres)
    currency = str(bench.settings["currency"])
    rows = [_bought(need) for need in needs]
    columns: list[Any] = [
        ("name", "item"),
        ("need_g", "needs, g", readable),
        ("there", "there"),
        ("buy", "buy"),
        ("cost", f"cost, {currency}", money),
    ]
    each = " each" if len(recipes) > 1 else ""
    out.table("needs", rows, columns, title=f"For {args.litres:g} litres of base{each}")
    short = [need for need in needs if need.short]
    if short:
        least = min(short, key=lambda need: need.share)
        out.say(
            f"What is there makes {readable(args.litres * least.share)} litres{each} at most: {least.name} runs out "
            "first."
        )
    if unknown := [need.name for need in needs if need.held_g is None]:
        out.say(f"It is not known what is there of {', '.join(unknown)}: counted as to be bought.")
    known = [need.cost for need in needs if need.cost is not None]
    least_cost = "at least " if len(known) < len(needs) else ""
    out.value("cost", sum(known) if len(known) == len(needs) else None)
    out.say(f"To be bought for {least_cost}{money(sum(known))} {currency}.")
    return 0


def _bought(need: Need) -> Mapping[str, Any]:
    buy_g = need.need_g if need.buy_g is None else need.buy_g
    bottles = "" if need.bottles is None else f" ({need.bottles} × {need.size})"
    return {
        **vars(need),
        "buy_g": need.buy_g,
        "there": about_g(need.held_g),
        "buy": "–" if buy_g == 0 else f"{readable(buy_g)} g{bottles}",
    }
