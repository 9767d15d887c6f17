"""Take pictures of the dashboard (needs Chromium).

``python tests/dashboard/take_pictures.py`` takes those of the README into ``demo_data/pictures``;
``python tests/dashboard/take_pictures.py FOLDER`` takes every view on a phone and on a desk, light and dark, and the
cup in hand step by step: to be looked at before every release.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from browsing import CHROMIUM, FLAGS, Visit, button, serving, start, tap
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

import pairing_demo_data
from pairing.bench import Bench
from pairing_dashboard.pages import VIEWS

PICTURES = Path(pairing_demo_data.__file__).with_name("pictures")
COLOURS = 128
STILL_MS = 700
"""What a drawing may still move after the page has answered, ms."""


def main(folder: Path | None) -> None:
    """Fill a bench with the demo, serve it, and take the pictures."""
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        bench = Bench.create(Path(place) / "bench")
        bench.load(**pairing_demo_data.files())
        bench.learn(random_state=0)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        with serving(Path(place) / "bench", Path(place) / "log") as url:
            if folder is None:
                of_readme(browser, url)
            else:
                of_all(browser, url, folder)
        browser.close()


def of_readme(browser: Browser, url: str) -> None:
    """Take three: the choice on a desk, the map in the dark, the bench on a phone."""
    visit = Visit(browser, url, viewport={"width": 1280, "height": 860})
    visit.open("", timeout=60)
    shoot(visit, PICTURES / "next-cups.png")
    visit.close()
    visit = Visit(browser, url, dark=True, viewport={"width": 1280, "height": 900})
    page = visit.open("pairings", timeout=60)
    visit.act(page.locator('.node[data-id="smoked-tea"] .hit').click)
    shoot(visit, PICTURES / "pairing-map.png")
    visit.close()
    visit = Visit(browser, url, phone=True)
    at_the_bench(visit, lambda name: shoot(visit, PICTURES / "at-the-bench.png") if name == "strength" else None)
    visit.close()


def of_all(browser: Browser, url: str, folder: Path) -> None:
    """Take each view in four ways, and a cup on a phone."""
    folder.mkdir(parents=True, exist_ok=True)
    for phone, dark in ((False, False), (False, True), (True, False), (True, True)):
        visit = Visit(browser, url, phone=phone, dark=dark)
        kind = f"{'phone' if phone else 'desk'}-{'dark' if dark else 'light'}"
        for it in (it for views in VIEWS.values() for it in views):
            visit.open("" if it.name == "next_cups" else it.name, timeout=60)
            shoot(visit, folder / f"{it.name}-{kind}.png")
        visit.close()
    visit = Visit(browser, url, phone=True)
    at_the_bench(visit, lambda name: shoot(visit, folder / f"cup-{name}.png"))
    visit.close()


def at_the_bench(visit: Visit, look: Callable[[str], object]) -> None:
    """Make the second suggestion, up to what it changed."""
    page = visit.open("", timeout=60)
    tap(visit, start(page).nth(1))
    look("pour")
    tap(visit, button(page, "I poured"))
    look("add")
    tap(visit, button(page, "I added it"))
    look("strength")
    tap(visit, page.get_by_role("radio", name="just right"))
    tap(visit, button(page, "I added it"))
    tap(visit, page.get_by_role("radio", name="just right"))
    look("liking")
    tap(visit, page.get_by_role("radio", name="7 like moderately"))
    look("end")
    tap(visit, button(page, "Nothing else, save"))
    look("after")


def shoot(visit: Any, path: Path) -> None:
    """Take one picture; a page has few colours, and a picture of so many is a third as large."""
    visit.page.wait_for_timeout(STILL_MS)
    visit.page.screenshot(path=path)
    Image.open(path).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if sys.argv[1:] else None)
