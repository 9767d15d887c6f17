"""Season a base before any aroma: sweet, then salt, then acid, tasting between; keep it as a version of the base.

For instance: pairing season oat sweet-leaf=0.2g salt=0.3g --keep 'oat, seasoned'. The amounts are those of one cup
(--base-g, else the serving). Without any it says where the plain base stands. What is kept is a base of its own, with
energy, sugars, sodium, acids and allergens by mass; it starts from what was learned of the plain one. Once the aroma is
in, say it with --aroma plum=6drops: whether to sweeten again follows.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from pairing.cli.advised import advise
from pairing.cli.care import add_caution_option, show_one, swallowed_today
from pairing.cli.common import by_ids, learn, named, open_bench
from pairing.cli.load import tell
from pairing.cli.output import ITEM, Output
from pairing.cli.steps import guesses, make_cup, poured
from pairing.errors import CupError
from pairing.model.base import Base
from pairing.model.recipe import Recipe
from pairing.nutrition.composition import compose
from pairing.nutrition.energy import base_energy
from pairing.nutrition.seasoning import in_order, seasoned, sweet_again, taste_of

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.cup import Cup

_FACTS = {
    "energy_kcal_per_100g": "kcal",
    "sugars_g_per_100g": "sugars, g",
    "sodium_mg_per_100g": "sodium, mg",
    "acids_g_per_100g": "acids, g",
    "ph": "pH",
}
_NOT_WORTH_A_WORD = 0.05
"""Points, before any cup, below which a rule is not told (our choice)."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare base, seasonings and name."""
    parser.add_argument("base", metavar="BASE")
    about = "seasonings with their amounts in the cup: sweet-leaf=0.2g salt=3drops"
    parser.add_argument("amounts", nargs="*", metavar="ID=AMOUNT", help=about)
    parser.add_argument(
        "--base-g", type=poured, metavar="G", help="base in the cup, g (its serving, else 250); or 200ml"
    )
    parser.add_argument("--keep", type=named, metavar="NAME", help="keep the seasoned base under this name")
    about = "the aroma that is in by now, repeatable: says whether to sweeten again"
    parser.add_argument("--aroma", action="append", default=[], metavar="ID=AMOUNT", help=about)
    parser.add_argument("--taster", action="append", default=[], help="who drinks it, for cautions; repeatable")
    add_caution_option(parser)


def run(args: argparse.Namespace, out: Output) -> int:
    """Show the order, what the base becomes, and where that stands; keep it when told to."""
    from pairing.safety.cautions import cautions

    bench = open_bench(args)
    shelf = bench.shelf()
    out.names = shelf.names
    by_ids(args, shelf, ["base"])
    base = shelf.base(args.base)
    if not args.amounts:
        if args.keep:
            raise CupError("nothing goes into it", f"give amounts: pairing season {args.base} sweet-leaf=0.2g --keep …")
        known = in_order((i for i, f in shelf.flavourings.items() if f.role == "seasoning"), shelf)
        out.say(f"Seasonings on the shelf: {', '.join(known) or 'none: load some with role=seasoning'}.")
        _tell_where(Recipe(base.base_id), bench, out)
        _sweeten_again(args, bench, out)
        return 0
    cup = _cup(args, args.amounts, bench, out)
    recipe = Recipe(base.base_id, cup.dose_g_per_kg)
    kept = seasoned(recipe, shelf, args.keep or f"{base.name}, seasoned")
    _tell_order(cup, bench, out)
    _tell_change(base, kept, bench, out)
    _tell_where(recipe, bench, out)
    said: dict[str, Any] = {"rules": bench.host.rules, "already": swallowed_today(bench)}
    found = cautions(recipe, shelf, args.taster, serving_g=cup.base_g, **said)
    show_one(out, found, shelf.names, explain=args.cautions)
    _sweeten_again(args, bench, out)
    if not args.keep:
        out.say("Taste it as cold or as warm as it is drunk: cold dulls sweetness. Then keep it as a base:")
        out.say(f"--keep '{base.name}, seasoned'.")
        return 0
    if any(caution.severity == "stop" for caution in found):
        raise CupError(f"{kept.name} is not to be drunk, see above: not kept", "change what stops it")
    report = bench.keep(kept)
    tell(report, out)
    out.value("kept", kept.base_id)
    if len(report.refused):
        return 1
    out.say(
        f"Kept as {kept.base_id}. Sweet again once the aroma is in: pairing season {kept.base_id} --aroma ID=AMOUNT"
    )
    return 0


def _sweeten_again(args: argparse.Namespace, bench: Bench, out: Output) -> None:
    """Say whether the cup wants more of its sweetener, now that the aroma is in."""
    if not args.aroma:
        return
    cup = _cup(args, [*args.amounts, *args.aroma], bench, out)
    sweet = sweet_again(cup.base_id, cup.dose_g_per_kg, bench.shelf())
    if not sweet:
        out.say("Sweet again: neither base nor cup has a sweetener in it; name one with its amount to ask about it.")
        return
    out.say(f"Sweet again, with {', '.join(bench.shelf().names[i] for i in cup.dose_g_per_kg)} in it:")
    _tell_where(Recipe(cup.base_id, cup.dose_g_per_kg), bench, out)
    advise(bench, learn(args, bench, out), cup, sweet, out, taster=next(iter(args.taster), None))


def _cup(args: argparse.Namespace, amounts: list[str], bench: Bench, out: Output) -> Cup:
    shelf = bench.shelf()
    steps = tuple(("add", text) for text in amounts)
    base_g = shelf.base(args.base).serving(args.base_g)
    said = argparse.Namespace(steps=steps, base_g=base_g, lot=[])
    for note in guesses(said, args.base, shelf):
        out.warn(note)
    return make_cup(said, args.base, shelf)


def _tell_order(cup: Cup, bench: Bench, out: Output) -> None:
    shelf = bench.shelf()
    grams: dict[str, float] = {}
    for step in cup.steps:
        if step.kind == "add" and step.item_id is not None:
            grams[step.item_id] = grams.get(step.item_id, 0.0) + (step.amount_g or 0.0)
    rows = [
        {
            "taste": taste_of(shelf.flavouring(i)),
            "flavouring_id": i,
            "amount": str(shelf.portion(i, grams[i], bench.settings["scale_g"])),
            "dose_g_per_kg": cup.dose_g_per_kg[i],
        }
        for i in in_order(grams, shelf)
    ]
    columns: list[Any] = [("taste", "first to last"), ("flavouring_id", "seasoning", ITEM), ("amount", "amount")]
    columns.append(("dose_g_per_kg", "g/kg", lambda dose: f"{dose:.3g}"))
    title = f"Into {cup.base_g:g} g of {shelf.names[cup.base_id]}, tasting between"
    out.table("seasonings", rows, columns, title=title)


def _tell_change(base: Base, kept: Base, bench: Bench, out: Output) -> None:
    shelf = bench.shelf()
    rows = []
    for item in (base, kept):
        whole = compose(item, shelf)
        facts = {name: getattr(whole, name) for name in _FACTS} | {"energy_kcal_per_100g": base_energy(whole)}
        allergens = None if whole.allergens is None else ", ".join(sorted(whole.allergens)) or "none"
        rows.append({"base": item.name, **facts, "allergens": allergens})
    columns: list[Any] = [("base", "per 100 g")]
    columns += [(name, said, lambda value: f"{value:.3g}") for name, said in _FACTS.items()]
    out.table("composition", rows, [*columns, ("allergens", "allergens")], title="What it becomes (– is unknown)")


def _tell_where(recipe: Recipe, bench: Bench, out: Output) -> None:
    """Say what rules on liking find in a cup of seasonings alone."""
    from pairing.host.scoring import because, features
    from pairing.host.tables import recipe_table_of
    from pairing.model.recipes import Recipes

    shelf = bench.shelf()
    rules = [rule for rule in bench.host.rules if rule.acts_on == "liking" and not rule.parts]
    matrix, faults = features(rules, recipe_table_of(shelf, Recipes.of(shelf, [recipe])))
    worth = {rule.id: float(value) * rule.prior_mean for rule, value in zip(rules, matrix[0], strict=True)}
    told = [rule for rule in rules if abs(worth[rule.id]) >= _NOT_WORTH_A_WORD]
    out.value("rules", [{"rule": r.id, "points": worth[r.id], "said": because(r, recipe, shelf)[0]} for r in told])
    for rule in told:
        side = "for it" if worth[rule.id] > 0 else "against it"
        out.say(f"  {side}: {because(rule, recipe, shelf)[0]} ({rule.id})")
    for fault in faults:
        if not fault.note:
            out.warn(fault.line)
