"""Automated accessibility rules on every view (axe-core, WCAG 2.1 A and AA), and contrast of our own colours.

Source: *published*, W3C, Web Content Accessibility Guidelines 2.1, success criteria 1.4.3 and 1.4.11 (contrast 4.5:1
for text, 3:1 for marks).
"""

import tomllib
from pathlib import Path

import pytest
from browsing import DESK, PHONE

import pairing_dashboard
from pairing_dashboard.map_component import FAMILY_COLOURS
from pairing_dashboard.pages import MORE, VIEWS

HOME = Path(pairing_dashboard.__file__).parent
THEME = tomllib.loads((HOME / ".streamlit" / "config.toml").read_text())["theme"]
RULES = {"resultTypes": ["violations"], "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}
IS_DARK = """dark => dark === getComputedStyle(document.querySelector('.stApp')).backgroundColor
    .match(/\\d+/g).slice(0, 3).every(part => part < 60)"""
NAMES = [it.name for views in (*VIEWS.values(), (MORE,)) for it in views]


def luminance(colour):
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a, b):
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_computed_as_published():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.1: the largest there is
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize("ground", ["backgroundColor", "secondaryBackgroundColor"])
def test_texts_and_marks_stand_out(mode, ground):
    theme = THEME[mode]
    assert contrast(theme["textColor"], theme[ground]) >= 4.5
    assert contrast(theme["linkColor"], theme[ground]) >= 4.5
    assert contrast(theme["borderColor"], theme[ground]) >= 2.6
    for colour in (theme["primaryColor"], *FAMILY_COLOURS):
        assert contrast(colour, theme[ground]) >= 3


@pytest.mark.browser
def test_no_view_breaks_a_rule(visit):
    """Each view, drawn once, is looked at on a light desk and on a dark phone."""
    from axe_playwright_python.sync_playwright import Axe

    window, broken = visit("demo"), {}
    for name in NAMES:
        page = window.open("" if name == "next_cups" else name, timeout=60)
        for scheme, size in (("light", DESK), ("dark", PHONE)):
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size(size["viewport"])
            page.wait_for_function(IS_DARK, arg=scheme == "dark")
            window.settle()
            page.wait_for_timeout(300)
            found = Axe().run(page, options=RULES).response["violations"]
            if found:
                broken[name, scheme] = [(v["id"], v["nodes"][0]["html"][:200], len(v["nodes"])) for v in found]
    assert broken == {}
