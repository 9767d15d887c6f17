"""Time how the program starts; medians of several runs in fresh processes, in seconds.

Run ``python tests/benchmarks/time_start.py [--runs 7]``. Aims (2 cores): import 0.15, help 0.3, demo 5. The processor
time of the process stands beside the wall time: on a busy machine the wall says little.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

PROGRAM = "from pairing.cli import main; raise SystemExit(main({words!r}))"


Span = tuple[float, float]
"""Wall time and processor time."""


def seconds(*words: str, cwd: str | None = None) -> Span:
    """Time one fresh process."""
    start, before = time.perf_counter(), os.times()
    subprocess.run([sys.executable, *words], cwd=cwd, capture_output=True, check=True)
    wall, after = time.perf_counter() - start, os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    return wall, spent


def program(*words: str, cwd: str | None = None) -> Span:
    return seconds("-c", PROGRAM.format(words=list(words)), cwd=cwd)


def first_demo() -> Span:
    """The demo from nothing: make the bench, load, learn, suggest."""
    with tempfile.TemporaryDirectory() as folder:
        return program("demo", cwd=folder)


def measures(folder: str) -> dict[str, tuple[Callable[[], Span], float | None]]:
    bench = str(Path(folder) / "demo-bench")
    return {
        "python itself": (lambda: seconds("-c", "pass"), None),
        "import pairing": (lambda: seconds("-c", "import pairing"), 0.15),
        "pairing --help": (lambda: program("--help"), 0.3),
        "pairing demo, first": (first_demo, 5.0),
        "pairing demo, again": (lambda: program("demo", cwd=folder), 5.0),
        "pairing suggest, same log": (lambda: program("suggest", "--bench", bench), None),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=7)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as folder:
        program("demo", cwd=folder)
        for name, (measure, aim) in measures(folder).items():
            walls, processor = zip(*(measure() for _ in range(runs)), strict=True)
            goal = "" if aim is None else f"   aim {aim:g}"
            median, spent = statistics.median(walls), statistics.median(processor)
            print(f"{name:26} {median:.3f} ({min(walls):.3f}–{max(walls):.3f}), processor {spent:.3f}{goal}")


if __name__ == "__main__":
    main()
