"""A tasting lesson of ten minutes: plain, half, the dose, twice the dose and one of them again, under codes.

First the sheet for whoever pours: pairing lesson 'oat|quince=1.6' --taster ana. The taster says of each code how strong
it is (0 to 10) and how it is liked (1 to 9); then the verdict, with the seed of the sheet: pairing lesson
'oat|quince=1.6' --taster ana --seed 7 --strength 111=3,… --liking 111=5,… The five likings are logged.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from pairing.cli.care import swallowed_today
from pairing.cli.common import learn, named, number, open_bench, whole
from pairing.cli.output import Output
from pairing.cli.which import read_recipe
from pairing.errors import LogError
from pairing.model.base import DEFAULT_SERVING_G
from pairing.model.caution import Caution, together
from pairing.model.cup import Cup
from pairing.model.doses import grams
from pairing.model.recipe import Recipe

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.blind.lesson import Lesson
    from pairing.model.portions import Portion
    from pairing.model.shelf import Shelf


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the recipe and the answers."""
    parser.add_argument(
        "recipe", metavar="RECIPE", help="base|flavouring=dose in g/kg, or a kept recipe: the cup in the middle"
    )
    parser.add_argument("--taster", type=named, default="me", help="whose lesson it is (me)")
    parser.add_argument(
        "--seed", type=whole, default=0, metavar="N", help="which order and codes (0); a new one each time"
    )
    parser.add_argument(
        "--cup-g", type=lambda text: number(text, "g"), default=60.0, metavar="G", help="g of base a cup"
    )
    for name, scale in (("strength", "0–10"), ("liking", "1–9")):
        parser.add_argument(f"--{name}", type=_said, metavar=f"CODE={scale},…", help=f"{name} of every cup, {scale}")


def run(args: argparse.Namespace, out: Output) -> int:
    """Print the sheet, or the verdict."""
    from pairing.blind.lesson import lesson, verdict

    bench = open_bench(args)
    recipe = read_recipe(args.recipe, bench, lambda: learn(args, bench, out))
    if len(recipe.doses) != 1 or None in recipe.doses.values():
        raise LogError("a lesson has one flavouring with its dose", "write pairing lesson 'oat|quince=1.6'")
    served = lesson(random_state=args.seed)
    if args.strength is None and args.liking is None:
        return _sheet(args, bench, recipe, served, out)
    found = verdict(served, args.strength or {}, args.liking or {})
    out.value("verdict", found)
    out.say(f"{args.taster}: {found}.")
    for code, level in zip(served.codes, served.levels, strict=True):
        cup = Cup(
            recipe.base_id, base_g=args.cup_g, shelf=bench.shelf(), trial_id=f"lesson-{args.taster}-{args.seed}-{code}"
        )
        for name, portion in _portions(recipe, args.cup_g, level, bench).items():
            cup = cup.add(name, g=portion.g) if portion.g > 0 else cup
        bench.log(cup.read(liking=args.liking[code], taster=args.taster, blind="coded", session=f"lesson-{args.seed}"))
    out.say("The five likings are in the log, under codes.")
    return 0


def _cautions(
    args: argparse.Namespace, bench: Bench, shelf: Shelf, recipe: Recipe, served: Lesson
) -> tuple[Caution, ...]:
    """Return the cautions of the strongest cup, and of all of them together, for who tastes."""
    from pairing.safety.cautions import cautions
    from pairing.safety.session import session_cautions

    def at(level: float) -> Recipe:
        return Recipe(recipe.base_id, {name: level * float(dose or 0.0) for name, dose in recipe.doses.items()})

    who, already = [args.taster] if args.taster in shelf.tasters else [], swallowed_today(bench)
    how: dict[str, Any] = {"rules": bench.host.rules, "already": already, "serving_g": args.cup_g}
    cups = [(at(level), args.cup_g) for level in served.levels]
    return (*cautions(at(max(served.levels)), shelf, who, **how), *session_cautions(cups, shelf, who, already=already))


def _sheet(args: argparse.Namespace, bench: Bench, recipe: Recipe, served: Lesson, out: Output) -> int:
    shelf = bench.shelf()
    if stops := [one for one in _cautions(args, bench, shelf, recipe, served) if one.severity == "stop"]:
        said = together(stops[:1], shelf.names)
        raise LogError(f"these cups are not to be served: {said}", "take another recipe, less of it, or smaller cups")
    rows = []
    for code, level in zip(served.codes, served.levels, strict=True):
        portions = _portions(recipe, args.cup_g, level, bench)
        added = [f"{portion} {shelf.names[name]}" for name, portion in portions.items()]
        rows.append(
            {"code": code, "level": f"{level:g} ×", "pour": f"{args.cup_g:g} g", "add": ", ".join(added) or "–"}
        )
    columns: list[Any] = [("code", "code"), ("level", "dose"), ("pour", shelf.names[recipe.base_id]), ("add", "add")]
    out.table("cups", rows, columns, title=f"For whoever pours, in this order, seed {args.seed}: not for the taster")
    out.say("Same temperature, same fill; a minute and a rinse between cups. Where a cup is too small to measure, make")
    out.say(f"{DEFAULT_SERVING_G:g} g and pour of that. Ask of each: how strong, 0 to 10; how liked, 1 to 9.")
    return 0


def _portions(recipe: Recipe, base_g: float, level: float, bench: Bench) -> dict[str, Portion]:
    """Return what goes into a cup, as it is measured out."""
    shelf, scale_g = bench.shelf(), bench.settings["scale_g"]
    exact = grams(base_g, {name: float(dose or 0.0) * level for name, dose in recipe.doses.items()})
    return {name: shelf.portion(name, g, scale_g) for name, g in exact.items() if g > 0}


def _said(text: str) -> dict[str, float]:
    pairs = [part.partition("=") for part in text.split(",") if part.strip()]
    return {code.strip(): number(value) for code, _, value in pairs}
