"""The pairing graph: what goes with what, how sure that is, and what nobody has tried.

Synergy is in liking points beyond the base and the two flavourings by themselves. Without a question: the best pairs
that were tried, the best that nobody has tried, and the groups.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import add_common, by_ids, count, ids, learn, named, open_bench
from pairing.cli.output import ITEM, Output
from pairing.errors import TableError
from pairing.model.constants import Z80
from pairing.nutrition.allergens import clash
from pairing.nutrition.composition import allergens_of
from pairing.safety.avoidance import check_allergens

if TYPE_CHECKING:
    from pairing.graph.queries import Questions
    from pairing.learned import Learned


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the questions."""
    questions = parser.add_subparsers(dest="question", metavar="QUESTION")
    parser.set_defaults(answer=_summary, base=None)

    def question(name: str, help: str, answer: Callable[..., None], *what: str) -> argparse.ArgumentParser:
        sub = questions.add_parser(name, help=help, description=help)
        for word in what:
            sub.add_argument(word, type=named)
        add_common(sub, again=True)
        sub.set_defaults(answer=answer)
        return sub

    def asked(name: str, help: str, answer: Callable[..., None], *what: str) -> argparse.ArgumentParser:
        sub = question(name, help, answer, *what)
        sub.add_argument("--base", metavar="BASE", help="in this base (the mean over all)")
        return sub

    def listed(name: str, help: str, answer: Callable[..., None], *what: str) -> argparse.ArgumentParser:
        sub = asked(name, help, answer, *what)
        sub.add_argument("-n", type=count, default=10, help="how many to show")
        return sub

    listed("partners", "best partners of a flavouring, tried and predicted apart", _partners, "flavouring")
    listed("between", "what would bring two flavourings together", _between, "flavouring", "other")
    stand_ins = listed("stand-ins", "what can stand in for a flavouring", _stand_ins, "flavouring")
    stand_ins.add_argument("--avoid-allergens", type=ids, metavar="A,B", help="only what is declared free of these")
    stand_ins.add_argument("--among", type=ids, metavar="A,B", help="only these flavourings")
    listed("groups", "flavourings that go together, and what links the groups", _groups)
    listed("gaps", "pairs that nobody has tried and that are worth trying", _gaps)
    bottles = asked("bottles", "the few flavourings that keep the most good pairs", _bottles)
    bottles.add_argument("-n", type=count, default=6, help="how many bottles in all")
    bottles.add_argument("--have", type=ids, metavar="A,B", default=(), help="already there")
    apart = question("difference", "pairs that work in one base and not in another", _difference, "base", "other_base")
    apart.add_argument("-n", type=count, default=10, help="how many to show")
    export = asked("export", "write the graph to a file: .graphml, .gexf, .json, .csv or .svg", _export, "file")
    export.add_argument("--format", choices=("graphml", "gexf", "json", "csv", "svg"), help="instead of by the ending")
    export.add_argument("--bases", action="store_true", help="with the bases and their affinities")
    picture = asked("picture", "draw the graph as an SVG file", _picture, "file")
    picture.add_argument("--most", type=count, default=60, help="most flavourings to draw")
    picture.add_argument("--clashes", action="store_true", help="draw likely clashes too")


def run(args: argparse.Namespace, out: Output) -> int:
    """Answer a question."""
    bench = open_bench(args)
    model = learn(args, bench, out)
    by_ids(args, model.shelf, ["base", "other_base"], ["flavouring", "other", "among", "have"])
    args.answer(args, model, out)
    return 0


def _ask(args: argparse.Namespace, model: Learned) -> Questions:
    from pairing.graph.queries import Questions

    return Questions(model.graph(args.base))


def _points(value: float) -> str:
    return f"{value:+.2f}"


def _share(value: float) -> str:
    return f"{value:.0%}"


def _spread(row: dict[str, Any]) -> dict[str, Any]:
    """Add what people read: points with the 80 % interval, and how sure that is."""
    from pairing.graph.queries import verdict

    low, high = row["synergy"] - Z80 * row["sd"], row["synergy"] + Z80 * row["sd"]
    shown = f"{row['synergy']:+.1f} ({low:+.1f} to {high:+.1f})"
    return {**row, "shown": shown, "verdict": verdict(row["p_positive"])}


SYNERGY: list[Any] = [("shown", "synergy, points (80 %)"), ("p_positive", "chance > 0", _share), ("verdict", "good?")]

GROUP_COLUMNS: list[Any] = [("group", "group"), ("flavourings", "flavourings", ITEM)]
NO_GROUPS = "no pair is likely good yet (80 %): log more cups with two flavourings"
NO_GAPS = "every pair of what may be suggested was tried"
EARLY = 12
"""Fewer cups with two flavourings than this tell no pair from luck (our choice)."""
SHORT = 5
"""Lines of each table of the summary."""


def _summary(args: argparse.Namespace, model: Learned, out: Output) -> None:
    from pairing.graph.groups import groups

    asked = _ask(args, model)
    cups = sum(facts["trials"] for _, _, facts in asked.graph.edges(data=True) if facts["kind"] == "pair")
    out.value("cups_with_pairs", int(cups))
    if cups < EARLY and not out.json:
        few = "1 cup" if cups == 1 else f"{cups:.0f} cups"
        out.say(
            f"Too early: {few} with two flavourings can hardly tell a good pair from luck. Some "
            f"{EARLY - cups:.0f} more, each pair twice or so, and there is something to see: pairing suggest says which"
        )
        return
    ends: list[Any] = [("flavouring_a", "flavouring", ITEM), ("flavouring_b", "with", ITEM)]
    tried = [*ends, *SYNERGY, ("trials", "trials"), ("bases", "tried in", ITEM)]
    none = "no pair of two is more likely good than not yet: log cups with two flavourings"
    out.table("tested", _best_tested(asked)[:SHORT], tried, title="Best pairs, tried", empty=none)
    new: list[Any] = [*ends, *SYNERGY, ("gain", "expected gain, points", _points)]
    title = "Nobody has tried, most to gain first"
    out.table("gaps", _rows(asked.gaps(SHORT)), new, title=title, empty=NO_GAPS)
    found = [{"group": i, "flavourings": group} for i, group in enumerate(groups(asked), start=1)]
    out.table("groups", found, GROUP_COLUMNS, title="Groups that go together", empty=NO_GROUPS)
    out.say("More: pairing graph partners FLAVOURING, gaps, groups, stand-ins, …: see pairing graph --help.")


def _best_tested(asked: Questions) -> list[dict[str, Any]]:
    """Return tried pairs of what may be suggested that are more likely good than not, surest gain first."""
    nodes = asked.graph.nodes
    rows = [
        _spread({"flavouring_a": min(a, b), "flavouring_b": max(a, b), **facts})
        for a, b, facts in asked.graph.edges(data=True)
        if facts["kind"] == "pair" and facts["tested"] and facts["p_positive"] > 0.5
        if nodes[a]["suggestable"] and nodes[b]["suggestable"]
    ]
    return sorted(rows, key=lambda row: (Z80 * row["sd"] - row["synergy"], row["flavouring_a"], row["flavouring_b"]))


def _partners(args: argparse.Namespace, model: Learned, out: Output) -> None:
    tested, predicted = _ask(args, model).partners(args.flavouring, args.n)
    columns: list[Any] = [("partner", "partner", ITEM), *SYNERGY]
    more = [("trials", "trials"), ("bases", "tried in", ITEM), ("note", "note")]
    title = f"Partners of {model.shelf.names[args.flavouring]}"
    out.table("tested", _rows(tested), [*columns, *more], title=f"{title}, tried", empty="no pair tried yet")
    out.table("predicted", _rows(predicted), columns, title=f"{title}, predicted", empty="every pair was tried")


def _between(args: argparse.Namespace, model: Learned, out: Output) -> None:
    ways = _ask(args, model).between(args.flavouring, args.other, args.n)
    rows = [
        {**row, "weak": " + ".join(model.shelf.names[f] for f in row["weakest"])} for row in ways.to_dict("records")
    ]
    columns: list[Any] = [
        ("through", "through", ITEM),
        ("probability", "chance that all are good", _share),
        ("weak", "weakest pair"),
        ("p_weakest", "its chance", _share),
        ("tested", "all tried"),
    ]
    title = f"Between {model.shelf.names[args.flavouring]} and {model.shelf.names[args.other]}"
    out.table("between", rows, columns, title=title, empty="no way over pairs that are more likely good than not")


def _stand_ins(args: argparse.Namespace, model: Learned, out: Output) -> None:
    among, unknown = _allowed(args, model)
    rows = _ask(args, model).stand_ins(args.flavouring, args.n, among).to_dict("records")
    columns: list[Any] = [
        ("stand_in", "stand-in", ITEM),
        ("family", "family"),
        ("similarity", "same partners (1 = all)", _points),
        ("shared", "likely partners of both", ITEM),
        ("points", "by itself, points", _points),
        ("note", "note"),
    ]
    out.table(
        "stand_ins",
        rows,
        columns,
        title=f"Stand-ins for {model.shelf.names[args.flavouring]}",
        empty="none that is allowed",
    )
    out.value("allergens_unknown", unknown)
    if args.avoid_allergens:
        if unknown:
            out.say(f"Left out, allergens unknown: {', '.join(model.shelf.names[f] for f in unknown)}.")
        out.say(
            "Recipes change: read the label of the bottle in your hand, and follow the medical advice that you have."
        )


def _allowed(args: argparse.Namespace, model: Learned) -> tuple[list[str] | None, list[str]]:
    """Which flavourings may stand in, and which are left out because nobody knows their allergens."""
    if args.among is None and not args.avoid_allergens:
        return None, []
    shelf = model.shelf
    chosen = [shelf.flavouring(id_) for id_ in (args.among or shelf.flavourings)]
    if not args.avoid_allergens:
        return [f.flavouring_id for f in chosen], []
    check_allergens(args.avoid_allergens, shelf)
    declared = {f.flavouring_id: allergens_of(f, shelf) for f in chosen}
    unknown = [id_ for id_, (_, missing) in declared.items() if missing]
    free = [id_ for id_, (words, missing) in declared.items() if not missing and not clash(words, args.avoid_allergens)]
    return free, unknown


def _groups(args: argparse.Namespace, model: Learned, out: Output) -> None:
    from pairing.graph.groups import go_betweens, groups

    asked = _ask(args, model)
    found = [{"group": i, "flavourings": group} for i, group in enumerate(groups(asked), start=1)]
    nodes, edges = go_betweens(asked, args.n)
    out.table("groups", found, GROUP_COLUMNS, title="Groups", empty=NO_GROUPS)
    links = [{**row, "group": row["group"] + 1} for row in nodes.to_dict("records")]
    columns: list[Any] = [
        ("flavouring_id", "flavouring", ITEM),
        ("group", "group"),
        ("spread", "spread over groups (0–1)", _points),
        ("pairs", "likely pairs"),
    ]
    out.table("go_betweens", links, columns, title="Flavourings that link groups", empty="none")
    pairs = [{**row, "group_a": row["group_a"] + 1, "group_b": row["group_b"] + 1} for row in _rows(edges)]
    ends = [
        ("flavouring_a", "flavouring", ITEM),
        ("group_a", "group"),
        ("flavouring_b", "with", ITEM),
        ("group_b", "group"),
    ]
    out.table("linking_pairs", pairs, [*ends, *SYNERGY, ("tested", "tried")], title="Pairs that do", empty="none")


def _gaps(args: argparse.Namespace, model: Learned, out: Output) -> None:
    rows = _rows(_ask(args, model).gaps(args.n))
    ends = [("flavouring_a", "flavouring", ITEM), ("flavouring_b", "with", ITEM)]
    gain: list[Any] = [
        ("gain", "expected gain, points", _points),
        ("central", "central (1 = average)", "{:.1f}".format),
    ]
    out.table("gaps", rows, [*ends, *SYNERGY, *gain], title="Nobody has tried", empty=NO_GAPS)
    out.say("`pairing suggest` gives doses, limits and cautions.")


def _bottles(args: argparse.Namespace, model: Learned, out: Output) -> None:
    from pairing.graph.groups import bottles

    asked = _ask(args, model)
    chosen = bottles(asked, args.n, args.have)
    rows = [{"flavouring_id": id_, **asked.graph.nodes[id_], "there": id_ in args.have} for id_ in chosen]
    columns: list[Any] = [("flavouring_id", "flavouring", ITEM), ("points", "by itself, points", _points)]
    title = f"The {args.n} flavourings with the most good pairs among them"
    out.table("bottles", rows, [*columns, ("there", "already there")], title=title)


def _difference(args: argparse.Namespace, model: Learned, out: Output) -> None:
    from pairing.graph.build import difference

    graph = difference(model, args.base, args.other_base)
    rows = [{"flavouring_a": a, "flavouring_b": b, **facts} for a, b, facts in graph.edges(data=True)]
    rows.sort(key=lambda row: (-abs(row["p_positive"] - 0.5), row["flavouring_a"], row["flavouring_b"]))
    here, there = model.shelf.names[args.base], model.shelf.names[args.other_base]
    columns: list[Any] = [
        ("flavouring_a", "flavouring", ITEM),
        ("flavouring_b", "with", ITEM),
        ("difference", f"{here} − {there}, points", _points),
        ("p_positive", f"chance better in {here}", _share),
        ("synergy_a", f"in {here}", _points),
        ("synergy_b", f"in {there}", _points),
        ("tested_a", "tried there"),
        ("tested_b", "and there"),
    ]
    out.table("difference", rows[: args.n], columns, title="Pairs that differ, surest first")


def _export(args: argparse.Namespace, model: Learned, out: Output) -> None:
    from pairing.graph.export import save

    graph = model.graph(args.base, bases=args.bases)
    path = save(graph, args.file, args.format)
    out.value("file", str(path))
    out.say(f"{len(graph)} nodes and {graph.number_of_edges()} edges written to {path}")


def _picture(args: argparse.Namespace, model: Learned, out: Output) -> None:
    from pairing.graph.export import write_text
    from pairing.graph.picture import picture

    if Path(args.file).suffix.lower() != ".svg":
        raise TableError(f"{args.file} does not end in .svg", "a picture is drawn as SVG: name it graph.svg")
    title = "What goes with what" + (f" in {model.shelf.base(args.base).name}" if args.base else "")
    text = picture(model.graph(args.base), title, most=args.most, clashes=args.clashes)
    path = write_text(text, args.file)
    out.value("file", str(path))
    out.say(f"drawn to {path}")


def _rows(table: Any) -> list[dict[str, Any]]:
    return [_spread(row) for row in table.to_dict("records")]
