"""What the dashboard holds after thousands of taps on one page: memory of the server, heap and nodes of the page.

Run it with ``python tests/benchmarks/dashboard_long.py [taps [seconds]]`` on Linux with Chromium; it stops after so
many taps (2,000) or seconds (600), whichever comes first. It prints what is held at the end as so many times that after
the first hundred, when everything was loaded and compiled once, and exits 1 when over the limit.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from browsing import CHROMIUM, FLAGS, Visit, serving
from playwright.sync_api import sync_playwright

import pairing_demo_data
from pairing.bench import Bench

LIMIT = 1.2
"""So many times the memory after the first taps, at most (our choice)."""
WARM, PROBES = 100, 10
"""Taps after which everything was loaded and compiled once, and how often it is looked at after them."""


def main(taps: int, seconds: float) -> int:
    """Open and close a cup of the log again and again; 1 when memory grew."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        bench = Bench.create(Path(folder) / "bench")
        bench.load(**pairing_demo_data.files())
        bench.learn(random_state=0)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        known = children()
        with serving(Path(folder) / "bench", Path(folder) / "log") as url:
            (server,) = children() - known
            visit = Visit(browser, url)
            page = visit.open("log", timeout=60)
            inside = visit.context.new_cdp_session(page)
            line = page.locator(".st-key-lines button").first
            begun, done, held = time.monotonic(), 0, []
            while done < taps and time.monotonic() - begun < seconds:
                visit.act(line.click)
                done += 1
                if done == WARM or done % max(WARM, taps // PROBES) == 0:
                    held.append(look(done, server, inside))
            held.append(look(done, server, inside))
            visit.close()
        browser.close()
    grew = [last / first for first, last in zip(held[0], held[-1], strict=True)]
    said = ", ".join(f"{name} {ratio:.2f} ×" for name, ratio in zip(("server", "heap", "nodes"), grew, strict=True))
    print(f"{done} taps in {time.monotonic() - begun:.0f} s: {said}; limit {LIMIT} ×")
    return int(max(grew) > LIMIT)


def look(done: int, server: int, inside: Any) -> tuple[float, float, float]:
    """Return and print memory of the server and heap of the page, MB, and the page's nodes, with those let go of."""
    inside.send("HeapProfiler.collectGarbage")
    heap = float(inside.send("Runtime.getHeapUsage")["usedSize"]) / 1e6
    held = resident_mb(server), heap, float(inside.send("Memory.getDOMCounters")["nodes"])
    print("after {} taps: server {:.0f} MB, page {:.1f} MB, {:.0f} nodes".format(done, *held), flush=True)
    return held


def children() -> set[int]:
    """Return the processes that this one has started."""
    return {
        int(one)
        for task in Path(f"/proc/{os.getpid()}/task").iterdir()
        for one in (task / "children").read_text(encoding="utf-8").split()
    }


def resident_mb(process: int) -> float:
    """Return the memory that a process holds, MB."""
    pages = int(Path(f"/proc/{process}/statm").read_text(encoding="utf-8").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


if __name__ == "__main__":
    given = sys.argv[1:]
    sys.exit(main(int(given[0]) if given else 2000, float(given[1]) if given[1:] else 600.0))
