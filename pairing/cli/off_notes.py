"""Which off-notes are to be expected: in every base by itself, or in bases and recipes that are named.

What covers one, and what that costs in liking: pairing suggest --mask beany.
"""

from __future__ import annotations

import argparse
from typing import Any

from pairing.cli.common import learn, open_bench
from pairing.cli.output import Output
from pairing.cli.which import read_recipe
from pairing.model.wording import note_in_words
from pairing.quantities.readable import between

_NOT_WORTH_A_WORD = 0.05
"""Notes that come less often than this are left out (our choice)."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what is asked about."""
    parser.add_argument(
        "sides", nargs="*", metavar="RECIPE|BASE", help="recipes, kept ones or bases (every base by itself)"
    )


def run(args: argparse.Namespace, out: Output) -> int:
    """Say how often each note comes, and how strong."""
    bench = open_bench(args)
    model = learn(args, bench, out)
    asked = [read_recipe(side, bench, lambda: model) for side in args.sides] or None
    table = model.off_notes(asked)
    out.value("off_notes", table)
    records = [
        {
            "cup": " + ".join(out.names[f] for f in row["flavourings"]) or "plain",
            "base_id": row["base_id"],
            "note": f"{note_in_words(row['note'])} {row['strength']:.0f}",
            "shown": f"{row['probability']:.0%} ({between(100 * row['low'], 100 * row['high'], '.0f')} %)",
        }
        for row in table.to_dict("records")
        if row["probability"] >= _NOT_WORTH_A_WORD
    ]
    columns: list[Any] = [("base", "base"), ("cup", "with"), ("note", "off-note, 1–3")]
    columns.append(("shown", "cups with it (80 %)"))
    for row in records:
        row["base"] = out.names[row["base_id"]]
    records.sort(key=lambda row: str(row["base"]))
    empty = "none was logged: pairing log … --off-notes 'beany:2'"
    out.table("shown", records, columns, title="Off-notes to be expected", empty=empty)
    return 0
