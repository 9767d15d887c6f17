"""What cautions cost a suggestion: `suggest` on the demo, here and with another version's Python, in turns in one run.

    python tests/benchmarks/care_suggest.py --beside /another/.venv/bin/python [--times 5]

Each turn is a process of its own: it learns the demo, asks three briefs, and gives the processor seconds of asking. The
ratio of the medians is what counts; without ``--beside`` only this version is timed.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys

TURN = """
import tempfile, time
import pairing_demo_data
from pairing import Bench, Brief
with tempfile.TemporaryDirectory() as place:
    bench = Bench.create(place + "/b")
    bench.load(**pairing_demo_data.files())
    model = bench.learn(random_state=0)
    briefs = [Brief(), Brief(max_added_kcal=30), Brief(tasters=["mikko"], max_flavourings=2)]
    begun = time.process_time()
    for brief in briefs:
        model.suggest(brief, n=5, random_state=0)
    first = time.process_time() - begun
    begun = time.process_time()
    found = [one for brief in briefs for one in model.suggest(brief, n=5, random_state=0)]
    again = time.process_time() - begun
    begun = time.process_time()
    for one in found if hasattr(model, "cautions") else ():
        model.cautions(one.recipe)
    print(first, again, time.process_time() - begun)
"""

LAST = 2
"""The cautions alone: a version that has them elsewhere shows 0."""


def main() -> None:
    """Take turns and print medians and their ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--beside", metavar="PYTHON", help="the Python of an environment with another version")
    parser.add_argument("--times", type=int, default=5)
    args = parser.parse_args()
    pythons = {"here": sys.executable} | ({"beside": args.beside} if args.beside else {})
    taken: dict[str, list[list[float]]] = {name: [] for name in pythons}
    for _ in range(args.times):
        for name, python in pythons.items():
            told = subprocess.run([python, "-c", TURN], capture_output=True, text=True, check=True).stdout
            taken[name].append([float(value) for value in told.split()[-3:]])
    for i, what in enumerate(("three suggestions asked first", "asked again", "cautions of what was suggested")):
        medians = {name: statistics.median(turn[i] for turn in turns) for name, turns in taken.items()}
        said = ", ".join(f"{name} {seconds:.3f} s" for name, seconds in medians.items())
        ratio = f"; ratio {medians['here'] / medians['beside']:.2f}" if "beside" in medians else ""
        print(f"{what}: {said}{ratio if i < LAST else ''}")


if __name__ == "__main__":
    main()
