"""Take the pictures of the README: ``python tests/dashboard/take_pictures.py`` (needs Chromium).

The demo bench in three views, one of them in the dark and one on a phone; written to ``demo_data/pictures``.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from browsing import CHROMIUM, FLAGS, Visit, serving, start
from playwright.sync_api import Browser, sync_playwright

import pairing_demo_data
from pairing.bench import Bench

PICTURES = Path(pairing_demo_data.__file__).with_name("pictures")


def main() -> None:
    """Fill a bench with the demo, serve it, and take the three pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        place = Path(folder) / "bench"
        bench = Bench.create(place)
        bench.load(**pairing_demo_data.files())
        bench.learn(random_state=0)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        with serving(place, Path(folder) / "log") as url:
            next_cups(browser, url)
            pairing_map(browser, url)
            at_the_bench(browser, url)
        browser.close()


def next_cups(browser: Browser, url: str) -> None:
    visit = Visit(browser, url, viewport={"width": 1280, "height": 860})
    visit.open("", timeout=60).wait_for_timeout(500)
    visit.page.screenshot(path=PICTURES / "next-cups.png")
    visit.close()


def pairing_map(browser: Browser, url: str) -> None:
    visit = Visit(browser, url, dark=True, viewport={"width": 1280, "height": 1000})
    page = visit.open("pairings", timeout=60)
    visit.act(page.locator('.node[data-id="smoked-tea"] .hit').click)
    page.wait_for_timeout(500)
    page.screenshot(path=PICTURES / "pairing-map.png")
    visit.close()


def at_the_bench(browser: Browser, url: str) -> None:
    visit = Visit(browser, url, phone=True, viewport={"width": 390, "height": 860})
    page = visit.open("", timeout=60)
    visit.act(start(page).first.tap)
    for name, role in (("Next", "button"), ("I poured", "button"), ("I added it", "button"), ("too weak", "radio")):
        visit.act(page.get_by_role(role, name=name, exact=role == "radio").tap)
    page.wait_for_timeout(500)
    page.screenshot(path=PICTURES / "at-the-bench.png")
    visit.close()


if __name__ == "__main__":
    main()
