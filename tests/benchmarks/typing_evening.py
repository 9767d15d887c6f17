"""How much is typed in an evening of two bases and one partner: every line in full, and with what goes on from before.

Both ways are run on benches of their own and have to leave the same cups; printed are the characters typed, Enter
included, and their ratio. In full is how it was typed before cups could be gone on with: each question repeats the
cup, and the cup is logged at its end.

    python tests/benchmarks/typing_evening.py
"""

from __future__ import annotations

import contextlib
import io
import shlex
import sys
import tempfile

from pairing import Bench
from pairing.cli import main

_BASES = ("oat", "pea")
BEFORE = [
    line.format(base=base)
    for base in _BASES
    for line in (
        "pairing dose {base} quince --base-g 250",
        "pairing dose {base} quince --base-g 250 --add quince=10drops --sip 10 --strength quince=2 --taster ana",
        "pairing dose {base} quince --base-g 250 --add quince=10drops --sip 10 --strength quince=2 --add quince=5drops "
        "--sip 10 --strength quince=3 --taster ana",
        "pairing log {base} --base-g 250 --add quince=10drops --sip 10 --strength quince=2 --add quince=5drops "
        "--sip 10 --strength quince=3 --liking 6 --taster ana --ended right",
        "pairing dose {base} vanilla --base-g 250 --add quince=15drops --taster ana",
        "pairing log {base} --base-g 250 --add quince=15drops --add vanilla=2.4g --sip 10 --strength vanilla=3 "
        "--liking 7 --taster ana --ended right",
    )
]
NOW = [
    line.format(base=base)
    for base in _BASES
    for line in (
        "pairing dose {base} quince --base-g 250",
        "pairing log {base} --base-g 250 --add quince=10drops --sip 10 --strength 2 --taster ana --next",
        "pairing log --go-on last --add quince=5drops --sip 10 --strength 3 --liking 6 --ended right --next vanilla",
        "pairing log --again last --add vanilla=2.4g --sip 10 --strength 3 --liking 7 --ended right",
    )
]


def typed(lines: list[str]) -> tuple[int, list[tuple[object, ...]]]:
    """Return characters typed, and the cups that the lines leave."""
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        place = f"{folder}/bench"
        code = main(["demo", "--bench", place])
        known = set(Bench.open(place).tables("readings")["trial_id"])
        for line in lines:
            code = code or main([*shlex.split(line)[1:], "--bench", place])
        rows = Bench.open(place).tables("readings")
    if code:
        sys.exit("a line was refused")
    rows = rows[~rows["trial_id"].isin(known)]
    columns = ["base_id", "flavouring_id", "taster", "strength", "liking", "ended"]
    shown = rows[columns].astype(object).where(rows[columns].notna(), None)
    doses = rows["dose_g_per_kg"].round(3).tolist()
    cups = [(*row, dose) for row, dose in zip(shown.itertuples(index=False, name=None), doses, strict=True)]
    return sum(len(line) + 1 for line in lines), cups


if __name__ == "__main__":
    (before, one), (now, other) = typed(BEFORE), typed(NOW)
    print(f"in full {before}, going on {now}: {now / before:.2f} ×; lines {len(BEFORE)} and {len(NOW)}")
    print("the same cups" if sorted(map(str, one)) == sorted(map(str, other)) else "OTHER CUPS")
