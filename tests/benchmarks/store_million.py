"""A bench with a million readings (500,000 cups): load, suggest, log, undo, check, each in a process of its own.

``python tests/benchmarks/store_million.py --beside /path/to/another/checkout`` measures that checkout and this one in
one run, and prints processor time, peak memory and the ratio of the two. ``--rows 100000`` is quicker.
"""

import argparse
import contextlib
import io
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parents[2]
BASES, FLAVOURINGS, TASTERS = 100, 500, 300


def tables(rows: int) -> dict[str, Any]:
    """Make a shelf and the readings of cups with two flavourings each."""
    import pandas as pd

    rng = np.random.default_rng(0)
    cup = np.repeat(np.arange(rows // 2), 2)
    first = rng.integers(0, FLAVOURINGS, rows // 2)
    second = (first + rng.integers(1, FLAVOURINGS, rows // 2)) % FLAVOURINGS
    flavouring = np.column_stack([first, second]).ravel()
    names = {
        prefix: np.array([f"{prefix}-{i}" for i in range(n)], dtype=object)
        for prefix, n in (("base", BASES), ("flavouring", FLAVOURINGS), ("taster", TASTERS))
    }
    readings = pd.DataFrame(
        {
            "trial_id": np.char.add("cup-", cup.astype(str)).astype(object),
            "base_id": names["base"][cup % BASES],
            "flavouring_id": names["flavouring"][flavouring],
            "taster": names["taster"][cup % TASTERS],
            "dose_g_per_kg": np.round(rng.lognormal(0.0, 0.5, rows), 3),
            "strength": rng.integers(1, 6, rows),
            "liking": np.repeat(rng.integers(1, 10, rows // 2), 2).astype(float),
        }
    )
    bases = pd.DataFrame({"base_id": names["base"], "name": names["base"]})
    flavourings = pd.DataFrame({"flavouring_id": names["flavouring"], "name": names["flavouring"]})
    return {
        "bases": bases,
        "flavourings": flavourings.assign(label_dose_g_per_kg=1.0, food_use="yes"),
        "readings": readings,
    }


def _load(place: Path, rows: int) -> Callable[[], Any]:
    from pairing import Bench

    made = tables(rows)
    bench = Bench.create(place)
    bench.load(bases=made["bases"], flavourings=made["flavourings"])
    return lambda: bench.load(readings=made["readings"])


def _suggest(place: Path, rows: int) -> Callable[[], Any]:
    from pairing import Bench

    return lambda: Bench.open(place).choose_plugins("").learn().suggest(n=5)


def _log(place: Path, rows: int) -> Callable[[], Any]:
    from pairing import Bench, Cup

    bench = Bench.open(place)

    def log() -> None:
        cup = Cup("base-1", base_g=300).add("flavouring-1", g=0.3).sip(g=10).read(strength={"flavouring-1": 3})
        bench.log(cup, liking=7, taster="taster-1")

    return log


def _next(step: Callable[[Path, int], Callable[[], Any]]) -> Callable[[Path, int], Callable[[], Any]]:
    """Make a step of what a process does for the second time: plugins and shelf are read already."""

    def again(place: Path, rows: int) -> Callable[[], Any]:
        work = step(place, rows)
        work()
        return work

    return again


def _command(*words: str) -> Callable[[Path, int], Callable[[], Any]]:
    """Make a step of a whole process: what somebody waits for who types a command."""

    def step(place: Path, rows: int) -> Callable[[], Any]:
        code = f"from pairing.cli import main\nraise SystemExit(main({[*words, '--bench', str(place.resolve())]!r}))"
        command = [sys.executable, "-c", code]  # from within a checkout it would run that one's code
        return lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd="/")

    return step


def _undo(place: Path, rows: int) -> Callable[[], Any]:
    from pairing import Bench

    bench = Bench.open(place)
    return bench.undo


def _check(place: Path, rows: int) -> Callable[[], Any]:
    from pairing.cli import main

    def look() -> None:
        with contextlib.redirect_stdout(io.StringIO()):
            assert main(["doctor", "--bench", str(place)]) == 0

    return look


def _undo_all(place: Path, rows: int) -> Callable[[], Any]:
    from pairing import Bench

    bench = Bench.open(place)
    return lambda: bench.undo(2)


STEPS: dict[str, Callable[[Path, int], Callable[[], Any]]] = {
    "load": _load,
    "suggest, first time": _suggest,
    "suggest, again": _suggest,
    "log of a cup": _log,
    "log of the next cup": _next(_log),
    "undo of a cup": _undo,
    "undo of the next cup": _next(_undo),
    "pairing log, the whole process": _command(
        *("log", "base-1", "--base-g", "200", "--add", "flavouring-1=0.3g", "--strength", "flavouring-1=3"),
        *("--liking", "7", "--plugins", ""),
    ),
    "pairing undo, the whole process": _command("undo", "--plugins", ""),
    "check of the bench": _check,
    "undo of all readings": _undo_all,
}


def measure(step: str, place: Path, rows: int) -> None:
    """Do one step in this process, and print what it took."""
    work = STEPS[step](place, rows)
    began, wall = _processor_s(), time.perf_counter()
    work()
    taken = {"cpu_s": _processor_s() - began, "wall_s": time.perf_counter() - wall}
    whose = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    print(json.dumps({**taken, "peak_mb": max(resource.getrusage(who).ru_maxrss for who in whose) / 1024}))


def _processor_s() -> float:
    """Return what this process and those that it started have used."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def taken_by(checkout: Path, step: str, place: Path, rows: int) -> dict[str, float]:
    """Do one step in a fresh process that runs the code of a checkout."""
    command = [sys.executable, __file__, "--step", step, "--place", str(place), "--rows", str(rows)]
    env = {**os.environ, "PYTHONPATH": str(checkout), "OMP_NUM_THREADS": "1"}
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        print(done.stderr, file=sys.stderr)
        return {}
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--beside", type=Path, help="another checkout to measure in the same run")
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--only", nargs="*", default=list(STEPS), help="some of the steps, in their order")
    parser.add_argument("--step", help=argparse.SUPPRESS)
    parser.add_argument("--place", type=Path, help="where the benches are made, and kept")
    args = parser.parse_args()
    if args.step:
        measure(args.step, args.place, args.rows)
        return
    with tempfile.TemporaryDirectory() as folder:
        place = args.place or Path(folder)
        checkouts = {"this": HERE} | ({"beside": args.beside.resolve()} if args.beside else {})
        print(f"{args.rows:,} readings; processor s (wall s), peak MB")
        for step in [name for name in STEPS if name in args.only]:
            found = {name: taken_by(path, step, place / name, args.rows) for name, path in checkouts.items()}
            line = [
                f"{name} {t['cpu_s']:.2f} ({t['wall_s']:.2f}), {t['peak_mb']:.0f}" for name, t in found.items() if t
            ]
            if all(found.get(name) for name in ("this", "beside")):
                ratios = [found["this"][key] / found["beside"][key] for key in ("cpu_s", "peak_mb")]
                line.append("ratio {:.2f}, {:.2f}".format(*ratios))
            print(f"{step}: {'; '.join(line)}", flush=True)


if __name__ == "__main__":
    main()
