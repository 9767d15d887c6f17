"""Blind checks: plan one, print the sheets, enter answers one by one, see the result when it is finished.

For instance: pairing blind plan 'oat|plum=1.6' 'oat|plum=1.2' --question stronger --taster ana; pairing blind sheet
taster; pairing blind answer 407. Nothing tells which cup was which before the end. Without an action: what is in hand.
"""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING, Any

from pairing.blind.pvalue import PValue, p_number
from pairing.cli.care import swallowed_today
from pairing.cli.common import add_common, learn, number, open_bench, whole
from pairing.cli.output import Output
from pairing.cli.pages import write_page
from pairing.cli.which import read_recipe
from pairing.errors import LogError
from pairing.model.constants import DEFAULT_TASTER
from pairing.report.document import Block, Bullets, Document, Paragraph, Table

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.blind.check import BlindCheck
    from pairing.blind.sheets import Sheet

_QUESTIONS = ("stronger", "prefer", "closer", "odd")
_METHODS = ("paired", "3-afc", "triangle", "duo-trio")
_SHEETS = ("taster", "helper", "stickers")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    _add_plan(_action(actions, "plan", "plan a check of two recipes"))
    _add_size(_action(actions, "servings", "how many servings a check would take"))
    sheet = _action(actions, "sheet", "print a sheet")
    sheet.add_argument("which", choices=_SHEETS, help="helper: with the contents, to be kept from the taster")
    sheet.add_argument("--to", metavar="FILE", help="write it to FILE: .html or .md")
    answer = _action(actions, "answer", "enter the code of the cup that was picked")
    answer.add_argument("code", metavar="CODE", help="the code, or tie where ties are allowed")
    answer.add_argument(
        "--serving", type=whole, metavar="N", help="number of the serving, to be sure that it is the next"
    )
    answer.add_argument("--note", default="", metavar="WORDS")
    skip = _action(actions, "skip", "leave the next serving out")
    skip.add_argument("--serving", type=whole, metavar="N")
    skip.add_argument("--note", required=True, metavar="WHY", help="spilled, interrupted, …")
    _action(actions, "back", "take the last answer back")
    _action(actions, "result", "what a finished check says")
    orders = _action(actions, "orders", "coded serving orders of several cups, each once per order")
    orders.add_argument("cups", nargs="+", metavar="CUP", help="what is tasted, in your own words")
    orders.add_argument("--rows", type=whole, default=1, metavar="N", help="tasters or sessions, one order each (1)")
    for name in ("sheet", "answer", "skip", "back", "result"):
        actions.choices[name].add_argument("--check", metavar="ID", help="which check (the only one in hand)")
    drop = _action(actions, "drop", "put a check in hand away, with its answers")
    drop.add_argument("check", metavar="CHECK", help="which check")
    _action(actions, "list", "checks in hand and finished ones")


def run(args: argparse.Namespace, out: Output) -> int:
    """Do one of the actions."""
    if args.action == "servings":
        return _servings(args, out)
    if args.action == "orders":
        return _orders(args, out)
    bench = open_bench(args)
    match args.action:
        case "plan":
            return _plan(args, bench, out)
        case "sheet":
            return _sheet(args, bench, out)
        case "answer" | "skip" | "back":
            return _enter(args, bench, out)
        case "result":
            return _result(args.check, bench, out)
        case "drop":
            return _drop(args.check, bench, out)
        case _:
            return _list(bench, out)


def _action(
    actions: argparse._SubParsersAction[argparse.ArgumentParser], name: str, about: str
) -> argparse.ArgumentParser:
    """Add an action that takes the options of every command after its name too."""
    sub = actions.add_parser(name, help=about, description=about)
    add_common(sub, again=True)
    return sub


def _add_plan(parser: argparse.ArgumentParser) -> None:
    recipe = "base|flavouring=dose;… in g/kg, a trial, or a base"
    parser.add_argument("a", metavar="A", help=f"the side that is expected to be picked: {recipe}")
    parser.add_argument("b", metavar="B", help="the other side")
    parser.add_argument("--taster", default=DEFAULT_TASTER, help=f"who tastes ({DEFAULT_TASTER})")
    parser.add_argument("--target", default="", metavar="WHAT", help="what --question closer is measured against")
    parser.add_argument("--name", metavar="ID", help="name of the check")
    parser.add_argument("--per-session", type=whole, default=6, metavar="N", help="servings in one sitting (6)")
    parser.add_argument(
        "--servings", type=whole, metavar="N", help="a fixed number instead of stopping when it is clear"
    )
    parser.add_argument("--fixed", action="store_true", help="the fixed number that the risks ask for")
    parser.add_argument("--ties", action="store_true", help="allow 'no difference' as an answer")
    parser.add_argument("--alone", action="store_true", help="without a helper: stickers under the cups")
    parser.add_argument("--either-side", action="store_true", help="expect no side: a two-sided test")
    _add_size(parser)


def _add_size(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--question", choices=_QUESTIONS, default="stronger", help="what is asked (stronger)")
    parser.add_argument("--method", choices=_METHODS, default="paired", help="how it is served (paired)")
    parser.add_argument(
        "--d-prime", type=number, default=1.0, metavar="D", help="the difference worth having (1: clear)"
    )
    parser.add_argument("--risk", type=number, default=0.05, metavar="P", help="of seeing one that is not there (0.05)")
    parser.add_argument("--power", type=number, default=0.9, metavar="P", help="chance of finding one that is (0.9)")


def _plan(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    from pairing.blind.kept import begin
    from pairing.blind.plan import plan

    a, b = (read_recipe(text, bench, lambda: learn(args, bench, out)) for text in (args.a, args.b))
    check = plan(
        a,
        b,
        question=args.question,
        method=args.method,
        expect_a=False if args.either_side else None,
        taster=args.taster,
        d_prime=args.d_prime,
        alpha=args.risk,
        power=args.power,
        sequential=not args.fixed,
        servings=args.servings,
        per_session=args.per_session,
        ties=args.ties,
        alone=args.alone,
        target=args.target,
        check_id=args.name,
    )
    begin(bench, check)
    _tell(check, out)
    sheets = "stickers" if check.alone else "helper (for whoever pours; it says what is in the cups)"
    out.say(f"Print next: pairing blind sheet taster, and pairing blind sheet {sheets}.")
    return 0


def _servings(args: argparse.Namespace, out: Output) -> int:
    from pairing.blind.plan import how_long

    found = how_long(args.method, args.question, args.d_prime, args.risk, args.power)
    columns = [("method", "method"), ("fixed", "fixed number"), ("different", "stopping early: with the difference")]
    columns += [("same", "without one"), ("cap", "at most")]
    out.table("servings", [found], columns, title=f"Servings for d′ = {args.d_prime:g}, on average when stopping early")
    return 0


def _orders(args: argparse.Namespace, out: Output) -> int:
    from pairing.blind.sheets import orders_sheet

    sheet, code = orders_sheet(args.cups, args.rows)
    _print(sheet, "orders", out)
    records = [{"code": digits, "cup": cup} for cup, digits in code.items()]
    out.table("codes", records, [("code", "code"), ("cup", "cup")], title="For whoever pours")
    return 0


def _sheet(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    from pairing.blind import sheets
    from pairing.blind.kept import resume

    check, shelf = resume(bench, args.check), bench.shelf()
    how: dict[str, Any] = {"rules": bench.host.rules, "already": swallowed_today(bench)}
    scale_g = bench.settings["scale_g"]
    made = {
        "taster": lambda: sheets.taster_sheet(check, shelf, **how),
        "helper": lambda: sheets.helper_sheet(check, shelf, scale_g, **how),
        "stickers": lambda: sheets.stickers(check, shelf, scale_g, **how),
    }[args.which]()
    if args.to:
        write_page(args.to, _document(made), out)
        return 0
    _print(made, "sheet", out)
    return 0


def _print(sheet: Sheet, name: str, out: Output) -> None:
    for line in (sheet.title, *sheet.text, *(f"[ ] {step}" for step in sheet.checklist)):
        out.say(line)
    records = [dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows]
    out.table(name, records, [(column, column) for column in sheet.columns])


def _document(sheet: Sheet) -> Document:
    blocks: list[Block] = [Paragraph(text) for text in sheet.text]
    if sheet.checklist:
        blocks.append(Bullets(sheet.checklist, tick=True))
    return Document(sheet.title, (*blocks, Table(sheet.columns, sheet.rows)))


def _enter(args: argparse.Namespace, bench: Bench, out: Output) -> int:
    from pairing.blind.kept import keep, resume

    check = resume(bench, args.check)
    at = datetime.now().isoformat(timespec="seconds")
    if args.action == "back":
        check = check.take_back()
    elif args.action == "skip":
        check = check.skip(args.serving, note=args.note, at=at)
    else:
        check = check.answer(args.code, args.serving, at=at, note=args.note)
    keep(bench, check)
    if check.finished:
        return _result(check.check_id, bench, out)
    _tell(check, out)
    return 0


def _result(check_id: str | None, bench: Bench, out: Output) -> int:
    from pairing.blind.kept import finish, finished, open_checks, resume, summary

    if check_id is not None and check_id not in open_checks(bench):
        table = summary(bench.tables("comparisons"), finished(bench))
        table = table[table["check_id"] == check_id]
        if not table.empty:
            _finished(table, out)
            return 0
    check = resume(bench, check_id)
    found = finish(bench, check)
    out.value("check_id", check.check_id)
    out.value("result", found)
    out.say(f"Check {check.check_id} is finished after {len(check.answers)} servings.")
    out.say(found.sentence)
    out.say("It is in the log now, and what is learned from here on takes it in.")
    return 0


def _drop(check_id: str, bench: Bench, out: Output) -> int:
    from pairing.blind.kept import drop

    drop(bench, check_id)
    out.value("dropped", check_id)
    out.say(f"Check {check_id} is put away, and its answers with it.")
    return 0


def _list(bench: Bench, out: Output) -> int:
    from pairing.blind.kept import finished, open_checks, resume, summary

    checks = [resume(bench, name) for name in open_checks(bench)]
    records = [
        {"check_id": c.check_id, "taster": c.taster, "asked": c.asked.ask, "progress": c.progress} for c in checks
    ]
    columns = [("check_id", "check"), ("taster", "taster"), ("asked", "question"), ("progress", "how far")]
    out.table("open", records, columns, title="Blind checks in hand", empty="none; pairing blind plan A B makes one")
    table = summary(bench.tables("comparisons"), finished(bench))
    if not table.empty:
        _finished(table, out)
    return 0


def _finished(table: pd.DataFrame, out: Output) -> None:
    how = [PValue(*row).how for row in zip(table["p_value"], table["two_sided"], table["sequential"], strict=True)]
    columns: list[Any] = [("check_id", "check"), ("question", "question"), ("taster", "taster")]
    columns += [("a", "expected, or picked more often")]
    columns += [("b", "against"), ("picked_a", "times"), ("n", "of"), ("p_value", "p", p_number), ("how", "how")]
    out.table("finished", table.assign(how=how), columns, title="Finished blind checks; p is exact")


def _tell(check: BlindCheck, out: Output) -> None:
    """Say how far a check is, and nothing else."""
    serving = check.next_serving
    if serving is None:
        raise LogError("the check is finished", "see pairing blind result")
    out.value("check_id", check.check_id)
    out.value("progress", check.progress)
    out.value("next", {"serving": serving.number, "session": serving.session, "codes": serving.codes})
    out.say(f"Check {check.check_id}: {check.progress}")
    out.say(check.asked.ask)
