"""Plan an evening: which cups, in what order, what comes between, how much everybody takes. Asking changes nothing.

For instance: pairing evening --tasters ana,ben --most kcal=150 --most ben:caffeine=80. Ask again after every cup that
was logged: what is left is planned anew. Only these bottles: --on-hand quince,plum --save-as box, later --only box.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.briefs import add_brief_options, brief_given
from pairing.cli.care import add_caution_option, show_cautions
from pairing.cli.common import count, ids, named, open_bench, tell_rotation, whole
from pairing.cli.output import Output
from pairing.errors import BriefError, StoreError
from pairing.evening.agenda import CUPS_PER_EVENING
from pairing.model.brief import Brief
from pairing.quantities.rates import number_of
from pairing.report.evening_sheet import amounts, evening_sheet, left_out, what

if TYPE_CHECKING:
    from pairing.evening.agenda import AgendaCup, Evening
    from pairing.model.shelf import Shelf


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare who is there, what they may take, and what the cups may be."""
    about = "what each may take tonight: kcal=150, sips=10, caffeine=80 (mg), sweeteners=40 (mg), ben:kcal=100"
    parser.add_argument("--most", action="append", default=[], metavar="WHAT=N", help=about)
    about = f"flavoured cups, at most {CUPS_PER_EVENING} ({CUPS_PER_EVENING}), tonight's among them"
    parser.add_argument("--cups", type=count, default=CUPS_PER_EVENING, metavar="N", help=about)
    parser.add_argument("--use-first", type=ids, default=[], metavar="A,B", help="flavourings or bases to be used up")
    parser.add_argument("--only", type=named, metavar="SET", help="only the bottles of a saved set")
    parser.add_argument("--save-as", type=named, metavar="SET", help="save the bottles of --on-hand as a set")
    parser.add_argument("--sheet", type=Path, metavar="FILE", help="also write the sheet for the bench, as Markdown")
    add_brief_options(parser)
    add_caution_option(parser)
    parser.add_argument("--random-state", type=whole, default=0, metavar="SEED", help="as of pairing suggest (0)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Plan, and show."""
    bench = open_bench(args)
    if args.save_as is not None:
        if args.on_hand is None:
            raise BriefError("--save-as names a set, and --on-hand names no bottles for it", "add --on-hand A,B")
        out.value("saved", {"name": args.save_as, "flavourings": bench.save_set(args.save_as, args.on_hand)})
    with out.progress("Planning the evening"):
        evening = bench.evening(
            brief=Brief(**brief_given(args)),
            cups=args.cups,
            most=_most(args.most),
            use_first=args.use_first,
            only=args.only,
            random_state=args.random_state,
        )
    shelf, scale_g = bench.shelf(), float(bench.settings["scale_g"])
    out.value("evening", evening)
    _show(out, evening, shelf, scale_g)
    tell_rotation(bench, out)
    show_cautions(out, [cup.cautions for cup in evening.cups], shelf.names, explain=args.cautions)
    if args.sheet is not None:
        _write(args.sheet, evening_sheet(evening, shelf, scale_g))
        out.say(f"Written to {args.sheet}")
    return 0


def _most(texts: list[str]) -> dict[str, Any]:
    """Read ``kcal=150`` and ``ben:kcal=100``; what is named for one comes on top of what is said for all."""
    found: dict[str, Any] = {}
    for text in texts:
        what_for, sign, amount = text.partition("=")
        if not sign:
            raise BriefError(f"--most {text!r} gives no amount", "write kcal=150, or ben:kcal=150")
        taster, colon, counted = what_for.rpartition(":")
        value = number_of(amount.strip().removesuffix("mg").strip(), f"--most {what_for}", BriefError)
        (found.setdefault(taster.strip(), {}) if colon else found)[counted.strip()] = value
    people = {name: one for name, one in found.items() if isinstance(one, dict)}
    if people and len(people) < len(found):
        raise BriefError("--most is given for all and for one", "name the taster in each: ana:kcal=150 ben:kcal=100")
    return found


def _show(out: Output, evening: Evening, shelf: Shelf, scale_g: float) -> None:
    cups = ([evening.warm_up] if evening.warm_up else []) + list(evening.cups)
    columns: list[Any] = [
        ("number", "#"), ("cup", "what"), ("add", f"into {cups[0].base_g:g} g of base" if cups else "add"),
        ("strength", "strength"), ("purpose", "why"), ("before", "before it"),
    ]  # fmt: skip
    title = f"Cups of this evening, {evening.taste_g:g} g to each taster"
    shown = [_row(cup, *what(cup, shelf, scale_g)) for cup in cups]
    out.table("cups", cups, columns, shown=shown, title=title, empty="nothing more tonight")
    if evening.tasted:
        out.say(f"Tasted so far: {evening.tasted} of {evening.most_cups} cups, the most that a palate bears.")
    for name, order in evening.orders.items():
        if len(evening.orders) > 1 and order:
            out.say(f"  {name} tastes in this order: {', '.join(map(str, order))}")
    for line in (*amounts(evening), *left_out(evening, shelf)):
        out.say(f"  {line}")


def _row(cup: AgendaCup, name: str, add: str) -> dict[str, Any]:
    strength = f"{cup.strength:.1f}{' (lingers)' if cup.lingers else ''}" if cup.scored else ""
    return {"number": cup.number or "–", "cup": name, "add": add, "strength": strength, "purpose": cup.purpose,
            "before": str(cup.before)}  # fmt: skip


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, "utf-8")
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}", "choose a place that you may write") from None
