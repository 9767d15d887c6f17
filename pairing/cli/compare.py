"""The round-up: a family of flavourings across bases.

What dose worked, what it cost in calories and money, how it was liked, and how sure that is.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import Any

from pairing.cli.common import ids, learn, open_bench
from pairing.cli.output import Output
from pairing.cli.recipes import interval, kcal, money
from pairing.errors import UnknownIdError, nearest


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare which flavourings and bases are compared."""
    parser.add_argument("--family", help="all flavourings of this family")
    parser.add_argument("--flavourings", type=ids, metavar="A,B", help="these flavourings (all)")
    parser.add_argument("--bases", type=ids, metavar="A,B", help="in these bases (all)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Compare."""
    bench = open_bench(args)
    shelf = bench.shelf()
    chosen = list(args.flavourings or shelf.flavourings)
    if args.family:
        family = args.family.casefold()
        chosen = [f for f in chosen if (shelf.flavouring(f).family or "").casefold() == family]
        if not chosen and args.flavourings:
            said = ", ".join(args.flavourings)
            raise UnknownIdError(f"of {said} none is of family {args.family!r}", "leave out --family or --flavourings")
        if not chosen:
            families = {f.family for f in shelf.flavourings.values() if f.family}
            raise UnknownIdError(f"no flavouring of family {args.family!r}", nearest(args.family, families))
    model = learn(args, bench, out)
    table = model.compare(chosen, list(args.bases or shelf.bases))
    records = [_shown(row) for row in table.to_dict("records")]
    currency = str(bench.settings.get("currency", ""))
    columns: list[Any] = [
        ("base_id", "base"),
        ("flavouring_id", "flavouring"),
        ("shown_dose", "dose, g/kg (80 %)"),
        ("drops", "drops", lambda n: f"{n:.0f}"),
        ("added_kcal", "+kcal", kcal),
        ("cost", f"cost, {currency}" if currency else "cost", money),
        ("shown_liking", "liking (80 %)"),
        ("p_best", "chance best", lambda p: f"{p:.0%}"),
        ("cups", "cups", lambda n: f"{n:.0f}"),
        ("tasters", "tasters", lambda n: f"{n:.0f}"),
        ("share_blind", "blind", lambda p: f"{p:.0%}"),
    ]
    out.table("comparison", records, columns, title="Round-up, per serving, best liked first")
    if not out.json:
        out.say(
            "Chance best: that it is the best liked of its base among those shown. A dose that was never right is –."
        )
    return 0


def _shown(row: Mapping[Any, Any]) -> dict[str, Any]:
    reached = bool(row.get("reached", True))
    dose = f"{row['dose_g_per_kg']:.3g} ({interval(row['low'], row['high'])})" if reached else "not reached"
    liking = f"{row['liking']:.1f} ({interval(row['liking_low'], row['liking_high'], '.1f')})"
    return {**row, "shown_dose": dose, "shown_liking": liking}
