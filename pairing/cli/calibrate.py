"""Weigh drops: count them onto a scale, and every later drop of that bottle is counted at its own mass.

Give each counting as DROPS=GRAMS, for instance: pairing calibrate sour-plum 40=0.93 40=0.95 --scale-g 0.01
"""

from __future__ import annotations

import argparse

from pairing.cli.common import by_ids, grams_above_zero, open_bench
from pairing.cli.output import Output
from pairing.errors import QuantityError
from pairing.quantities.calibration import calibrate
from pairing.quantities.rates import read_in, read_whole


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Bottle, countings and scale."""
    parser.add_argument("flavouring", metavar="FLAVOURING")
    parser.add_argument(
        "countings", nargs="+", metavar="DROPS=GRAMS", help="drops counted and what they weigh, repeated"
    )
    parser.add_argument(
        "--scale-g", type=grams_above_zero, metavar="G", help="smallest step of the scale in g (the bench's own)"
    )
    parser.add_argument("--lot", help="lot of the bottle")
    parser.add_argument("--keep-anyway", action="store_true", help="keep a mass outside 8–70 mg per drop")


def run(args: argparse.Namespace, out: Output) -> int:
    """Estimate, show, and keep the countings unless they are queried."""
    bench = open_bench(args)
    by_ids(args, bench.shelf(), flavourings=["flavouring"])
    name = bench.shelf().names[args.flavouring]
    drops, grams = zip(*map(_counting, args.countings), strict=True)
    found = calibrate(drops, grams, args.scale_g or bench.settings["scale_g"])
    out.value("calibration", found)
    out.say(f"{name}: {found.mg:.3g} mg per drop, 80 % interval {found.low:.3g}–{found.high:.3g} mg.")
    out.say(found.advice[:1].upper() + found.advice[1:] + ".")
    if found.queried and not args.keep_anyway:
        raise QuantityError(
            f"{found.mg:.3g} mg per drop is outside 8–70 mg: not kept",
            "weigh again, or add --keep-anyway if it is right",
        )
    for n, mass in zip(drops, grams, strict=True):
        bench.calibrate(args.flavouring, n, mass, args.lot)
    one = len(drops) == 1
    out.say("Kept." if one else f"{len(drops)} countings are kept; pairing undo takes back the last of them.")
    return 0


def _counting(text: str) -> tuple[int, float]:
    drops, _, grams = text.partition("=")
    try:
        return read_whole(drops), read_in(grams, "grams")
    except QuantityError as error:
        hint = f"{error.hint}; 40=0.93 are 40 drops that weigh 0.93 g"
        raise QuantityError(f"{text!r} is not drops=grams: {error.message}", hint) from None
