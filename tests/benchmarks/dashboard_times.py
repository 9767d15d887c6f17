"""How long the dashboard takes: to its title, to suggestions from kept state, to save a tap, to suggest anew.

Run it with ``python tests/benchmarks/dashboard_times.py [repeats]`` on an idle machine; each repeat opens an empty page
of Streamlit's own first. It prints the medians as so many times that page, beside the limit, and exits 1 when over it.
"""

from __future__ import annotations

import re
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from browsing import CHROMIUM, FLAGS, Visit, serving, start
from playwright.sync_api import Browser, sync_playwright
from simulated import make_palate

from pairing.bench import Bench

EMPTY = "the empty page after process start"
LIMITS = {
    "title after process start": 1.2,
    "suggestions from kept state after process start": 1.7,
    "a tap saved and the next question shown": 0.14,
    "next cups shown after a cup on 300 trials": 0.55,
    "next cups renewed after a cup on 300 trials": 1.5,
}
"""So many times the empty page, at most (our choice)."""
QUESTIONS = 6


def main(repeats: int) -> int:
    """Measure and print; 1 when a median is over its limit."""
    found: dict[str, list[float]] = {name: [] for name in (EMPTY, *LIMITS)}
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        place = Path(folder)
        demo(place / "demo")
        three_hundred(place / "large")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for n in range(repeats):
            empty(browser, place, found)
            shutil.copytree(place / "demo", place / f"demo-{n}")
            cold_start(browser, place / f"demo-{n}", found)
            shutil.copytree(place / "large", place / f"large-{n}")
            a_cup(browser, place / f"large-{n}", found)
        browser.close()
    over, beside = 0, statistics.median(found[EMPTY])
    print(f"{EMPTY}: median {beside:.2f} s of {repeats}")
    for name, limit in LIMITS.items():
        median = statistics.median(found[name])
        over += median / beside > limit
        print(f"{name}: {median / beside:.2f} × ({median:.2f} s, best {min(found[name]):.2f}); limit {limit} ×")
    return int(over > 0)


def empty(browser: Browser, place: Path, found: dict[str, list[float]]) -> None:
    """Start a process with nothing but a title, with a browser waiting."""
    app = place / "empty.py"
    app.write_text('import streamlit as st\nst.title("Empty")\n')
    begun = time.monotonic()
    with serving(place, place / "empty.log", app) as url:
        visit = Visit(browser, url)
        visit.page.goto(url, wait_until="commit")
        visit.page.get_by_role("heading", name="Empty").wait_for(timeout=60_000)
        found[EMPTY].append(time.monotonic() - begun)
        visit.close()


def demo(place: Path) -> None:
    """Make the demo bench, learned once."""
    import pairing_demo_data

    bench = Bench.create(place)
    bench.load(**pairing_demo_data.files())
    bench.learn(random_state=0)


def three_hundred(place: Path) -> None:
    """Make a bench with 300 simulated trials, learned once."""
    palate = make_palate(seed=1, n_bases=4, n_flavourings=24)
    bench = Bench.create(place)
    bench.load(
        bases=palate.bases_df, flavourings=palate.flavourings_df, readings=palate.log(300, np.random.default_rng(2))
    )
    bench.learn(random_state=0)


def cold_start(browser: Browser, bench: Path, found: dict[str, list[float]]) -> None:
    """Start the process with a browser waiting, and look when the title and the first suggestion are there."""
    begun = time.monotonic()
    with serving(bench, bench.with_suffix(".log")) as url:
        visit = Visit(browser, url)
        visit.page.goto(url, wait_until="commit")
        visit.page.get_by_role("heading", name="Next cups").wait_for(timeout=60_000)
        found["title after process start"].append(time.monotonic() - begun)
        start(visit.page).first.wait_for(timeout=60_000)
        found["suggestions from kept state after process start"].append(time.monotonic() - begun)
        visit.close()


def a_cup(browser: Browser, bench: Path, found: dict[str, list[float]]) -> None:
    """Log a cup tap by tap; time each tap until the next question, and the suggestions after it."""
    with serving(bench, bench.with_suffix(".log")) as url:
        visit = Visit(browser, url, phone=True)
        page = visit.open("", timeout=60)
        visit.act(start(page).first.tap)
        question = page.locator("h2.ask")
        for answer, role in (("I poured", "button"), ("I added it", "button"), ("just right", "radio")):
            before, begun = question.inner_text(), time.monotonic()
            page.get_by_role(role, name=answer).tap()
            page.wait_for_function("q => document.querySelector('h2.ask')?.innerText !== q", arg=before)
            found["a tap saved and the next question shown"].append(time.monotonic() - begun)
            visit.settle()
        for _ in range(QUESTIONS):  # until it is judged
            if page.get_by_role("radio", name="3 dislike moderately").count():
                break
            done = page.get_by_role("button", name=re.compile("^(Done with|No more|Leave out)"))
            visit.act(done.first.tap)
        visit.act(page.get_by_role("radio", name="3 dislike moderately").tap)
        page.get_by_role("button", name="Nothing else, save").tap()
        page.get_by_text("The cup is in the log.").wait_for()
        begun = time.monotonic()  # at once, without a moment in which it could learn unseen
        page.get_by_role("link", name="What to try next").tap()
        start(page).first.wait_for(timeout=60_000)
        found["next cups shown after a cup on 300 trials"].append(time.monotonic() - begun)
        page.locator(".renewing").wait_for(state="detached", timeout=60_000)
        start(page).first.wait_for(timeout=60_000)
        found["next cups renewed after a cup on 300 trials"].append(time.monotonic() - begun)
        visit.close()


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 5))
