"""Many hands on one SQLite file: eight tight writers beside one, and a cup logged while many rows come and go.

``python tests/benchmarks/store_hands.py --beside /path/to/another/checkout`` measures that checkout and this one in one
run. Printed are the waits for one ``log`` (wall time), their ratio to one writer's median, and how many were refused.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]


def write(place: str, who: str, cups: int) -> None:
    """Log cups as fast as it goes, and print how long each took."""
    from pairing import Bench, Cup
    from pairing.errors import PairingError

    bench = Bench.open(place, author=who).choose_plugins("")
    bench.tables("bases")  # loads the libraries
    bench.log(Cup("oat", base_g=300, trial_id=f"{who}-first").add("quince", g=0.3).read(liking=5))
    waits, cpu, refused = [], [], 0
    for n in range(cups):
        cup = Cup("oat", base_g=300, trial_id=f"{who}-{n}").add("quince", g=0.3).sip(g=10)
        began, used = time.perf_counter(), time.process_time()
        try:
            bench.log(cup.read(strength={"quince": 3}), liking=1 + n % 9, taster=who)
        except PairingError:
            refused += 1
        waits.append(time.perf_counter() - began)
        cpu.append(time.process_time() - used)
    print(json.dumps({"waits": waits, "cpu": cpu, "refused": refused}))


def bulk(place: str, rows: int) -> None:
    """Load many rows and take them back; print what each took."""
    import pandas as pd

    from pairing import Bench

    trials = [f"many-{n}" for n in range(rows)]
    frame = pd.DataFrame({"trial_id": trials, "base_id": "oat", "flavouring_id": "quince", "dose_g_per_kg": 1.0})
    bench = Bench.open(place, author="bulk")
    began = time.perf_counter()
    bench.load(readings=frame)
    loaded = time.perf_counter()
    revision = bench.history().query("author == 'bulk'")["revision"].iloc[-1]
    bench.undo(int(revision))
    print(json.dumps({"load_s": loaded - began, "undo_s": time.perf_counter() - loaded}))


def stocked(place: Path) -> None:
    """Make a bench with a base and a flavouring."""
    import pandas as pd

    from pairing import Bench

    bases = pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"]})
    flavourings = pd.DataFrame({"flavouring_id": ["quince"], "name": ["Quince drops"], "label_dose": ["1 g/kg"]})
    Bench.create(place).load(bases=bases, flavourings=flavourings)


def start(checkout: Path, *words: object) -> subprocess.Popen[str]:
    """Start this script with the code of a checkout."""
    env = {**os.environ, "PYTHONPATH": str(checkout), "OMP_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, __file__, *map(str, words)], env=env, stdout=subprocess.PIPE, text=True, cwd="/"
    )


def answer(process: subprocess.Popen[str]) -> dict[str, list[float]]:
    """Return what a started script printed."""
    said = process.communicate()[0]
    found: dict[str, list[float]] = json.loads(said.splitlines()[-1])
    return found


def percentile(waits: list[float], share: float) -> float:
    """Return the wait that this share is below."""
    return sorted(waits)[min(int(share * len(waits)), len(waits) - 1)]


def measure(name: str, checkout: Path, folder: Path, writers: int, cups: int, rows: int) -> None:
    """Measure one checkout and print its lines."""
    for place in ("one", "many", "bulk"):
        start(checkout, "--stock", folder / place).communicate()
    alone = answer(start(checkout, "--write", folder / "one", "ana", cups))
    one = statistics.median(alone["waits"])
    several = [start(checkout, "--write", folder / "many", f"t{i}", cups) for i in range(writers)]
    answers = [answer(process) for process in several]
    waits = [w for a in answers for w in a["waits"]]
    refused = sum(int(a["refused"]) for a in answers)  # type: ignore[call-overload]
    p99 = percentile(waits, 0.99)
    print(
        f"{name}: one writer {1000 * one:.0f} ms (processor {1000 * statistics.median(alone['cpu']):.0f} ms); "
        f"{writers} × {cups} cups: median {1000 * statistics.median(waits):.0f} ms, p99 {1000 * p99:.0f} ms "
        f"= {p99 / one:.1f} × one writer, longest {max(waits):.2f} s, refused {refused}",
        flush=True,
    )
    busy = start(checkout, "--bulk", folder / "bulk", rows)
    waits = []
    while busy.poll() is None:
        waits += answer(start(checkout, "--write", folder / "bulk", f"t{len(waits)}", 20))["waits"]
    took = answer(busy)
    print(
        f"{name}: a load of {rows:,} rows {took['load_s']:.1f} s, its undo {took['undo_s']:.1f} s; "
        f"meanwhile a log took {1000 * statistics.median(waits):.0f} ms, at most {max(waits):.2f} s",
        flush=True,
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--beside", type=Path, help="another checkout to measure in the same run")
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--cups", type=int, default=200)
    parser.add_argument("--rows", type=int, default=200_000)
    parser.add_argument("--write", nargs=3, help=argparse.SUPPRESS)
    parser.add_argument("--bulk", nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--stock", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.write:
        write(args.write[0], args.write[1], int(args.write[2]))
    elif args.bulk:
        bulk(args.bulk[0], int(args.bulk[1]))
    elif args.stock:
        stocked(args.stock)
    else:
        checkouts = ({"beside": args.beside.resolve()} if args.beside else {}) | {"this": HERE}
        for name, checkout in checkouts.items():
            with tempfile.TemporaryDirectory() as folder:
                measure(name, checkout, Path(folder), args.writers, args.cups, args.rows)


if __name__ == "__main__":
    main()
