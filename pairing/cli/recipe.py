"""Recipes kept by name: keep one, list them, show one with what the log says of it, and what its versions were.

For instance: pairing recipe keep 'oat|quince=1.6' --name dusk --note 'the winner of May'. A kept name, or name@version,
stands wherever a recipe does: pairing card dusk@1. Keeping a name again makes its next version; none is overwritten.
"""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING, Any

from pairing.cli.care import show_care_of
from pairing.cli.common import add_common, learn, named, open_bench
from pairing.cli.output import Output
from pairing.cli.which import read_recipe
from pairing.errors import UnknownIdError, nearest
from pairing.model.columns import RECIPES
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.recipe import recipe_text

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.recipe import Recipe

_COLUMNS: list[Any] = [
    ("recipe_id", "recipe"),
    ("version", "version", "{:.0f}".format),
    ("base_id", "base"),
    ("doses", "doses, g/kg"),
    ("status", "status"),
    ("note", "note"),
]
_STATUS = RECIPES.by_name["status"].choices


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    keep = actions.add_parser("keep", help="keep one by name", description="Keep a recipe by name.")
    keep.add_argument("recipe", metavar="RECIPE", help="base|flavouring=dose;… in g/kg, a trial, or a kept recipe")
    keep.add_argument("--name", type=named, required=True, help="its name; kept before, this is the next version")
    about = "how far it is (kept once a full glass of it was logged, until then trying)"
    keep.add_argument("--status", choices=_STATUS, help=about)
    keep.add_argument("--note", metavar="WORDS", help="what changed, and why")
    listing = actions.add_parser("list", help="all that are kept", description="Show the last version of each.")
    show = actions.add_parser("show", help="one, and what the log says of it", description="Show one recipe.")
    history = actions.add_parser("history", help="all versions of one", description="Show all versions of one.")
    for sub in (show, history):
        sub.add_argument("name", metavar="NAME", help="kept name" + (", or name@version" if sub is show else ""))
    for sub in (keep, listing, show, history):
        add_common(sub, again=True)


def run(args: argparse.Namespace, out: Output) -> int:
    """Do one of the actions."""
    bench = open_bench(args)
    if args.action == "keep":
        recipe = read_recipe(args.recipe, bench, lambda: learn(args, bench, out))
        drunk = drunk_whole(bench, recipe)
        status = args.status or ("kept" if drunk else "trying")
        kept = bench.keep(recipe, name=args.name, status=status, note=args.note)
        out.value("kept", kept)
        out.value("status", status)
        out.say(f"Kept as {kept} ({status}). To take it back: pairing undo")
        stopped = show_care_of(out, [recipe], bench, only_stops=True)
        if not drunk and not stopped:
            _tell_serving(recipe, learn(args, bench, out), out)
    elif args.action == "show":
        _show(args, bench, out)
    else:
        rows = bench.tables("recipes").sort_values(["recipe_id", "version"], ignore_index=True)
        if args.action == "history":
            rows = rows[rows["recipe_id"] == args.name]
            if rows.empty:
                raise _unknown(bench, args.name)
        else:
            rows = rows.drop_duplicates("recipe_id", keep="last")
        out.table("recipes", rows, _COLUMNS, title="Kept recipes", empty="none; pairing recipe keep RECIPE --name NAME")
    return 0


def _tell_serving(recipe: Recipe, model: Learned, out: Output) -> None:
    """Say at which doses to pour a glass to finish: what a sip likes is too much."""
    from pairing.report.full_glass import full_glass

    glass = full_glass(recipe, model)
    out.value("full_glass", None if glass is None else glass.to_dict())
    if glass is None:
        out.say("No full glass of it is logged: pour one serving fresh, finish it, and log it with --glass full.")
        return
    out.say("No full glass of it is logged: a sip overrates sweetness and strength. Pour one serving fresh, at")
    out.say(f"{glass.share}: '{recipe_text(glass.recipe)}'. Finish it, and log it with --glass full.")


def drunk_whole(bench: Bench, recipe: Recipe) -> bool:
    """Whether a full glass of it was logged: the same base and flavourings, no dose off by more than a fifth."""
    from pairing.learning.log import with_doses

    rows = bench.tables("readings")
    rows = with_doses(rows[(rows["glass"] == "full") & (rows["base_id"] == recipe.base_id)], bench.shelf())
    for _, cup in rows[rows["flavouring_id"].notna()].groupby(["trial_id", "taster", "reading"]):
        inside = dict(zip(cup["flavouring_id"], cup["dose_g_per_kg"], strict=True))
        same = inside.keys() == recipe.doses.keys()
        if same and all(abs(math.log(inside[f] / d)) <= IN_RANGE_LOG for f, d in recipe.doses.items() if d):
            return True
    return False


def _show(args: argparse.Namespace, bench: Bench, out: Output) -> None:
    from pairing.blind.kept import finished
    from pairing.report.evidence import evidence

    rows = bench.tables("recipes")
    name, _, version = args.name.partition("@")
    own = rows[rows["recipe_id"] == name].sort_values("version")
    if own.empty:
        raise _unknown(bench, args.name)
    recipe = read_recipe(args.name, bench, lambda: learn(args, bench, out))
    out.table("recipe", own[own["version"] == float(version)] if version else own.tail(1), _COLUMNS)
    model = learn(args, bench, out)
    found = evidence(recipe, model.log, model.shelf, bench.tables("comparisons"), finished(bench))
    out.value("evidence", vars(found))
    for line in found.sentences:
        out.say(f"  {line}")
    show_care_of(out, [recipe], bench)


def _unknown(bench: Bench, name: str) -> UnknownIdError:
    kept = sorted(set(bench.tables("recipes")["recipe_id"]))
    return UnknownIdError(f"no kept recipe {name!r}", nearest(name, kept) if kept else "keep one: pairing recipe keep")
