"""Every view on an empty bench, after one cup, on the demo, and with faulty plugins."""

import pytest

from pairing_dashboard.pages import BAR, MORE, VIEWS

TITLES = {it.name: it.title for views in VIEWS.values() for it in views}


@pytest.mark.parametrize("kind", ["empty", "one", "demo", "faulty"])
@pytest.mark.parametrize("view", TITLES)
def test_every_view_opens_on_every_bench(app, view, kind):
    at = app(kind, view)
    assert at.title[0].value == TITLES[view]
    if kind == "empty":
        assert "Three ways to begin" in at.subheader[0].value


def test_every_view_has_a_file_and_every_file_is_a_view():
    from pathlib import Path

    import pairing_dashboard

    files = {p.stem for p in (Path(pairing_dashboard.__file__).parent / "views").glob("[!_]*.py")}
    assert files == {*TITLES, MORE.name}


def test_no_bench_yet_offers_to_begin(app):
    at = app("none")
    assert [t.label for t in at.tabs] == ["Look at a demo", "Import tables", "Three questions"]
    assert not at.bench_path.exists()  # looking makes nothing


def test_every_page_is_one_tap_away_or_two(app):
    at = app("one", "more")
    links = [it.proto.page for it in at.main if it.type == "page_link"]
    in_bar = ["", *(it.name for it in BAR[1:])]
    assert {it or "next_cups" for it in links} == {*TITLES, MORE.name}
    assert links[: len(in_bar)] == in_bar


def test_bases_are_held_side_by_side_in_words_and_drawn(app):
    at = app("demo", "doses")
    sides = next(box for box in at.multiselect if box.label == "Side by side")
    drawn = len(at.get("vega_lite_chart")) + len(at.get("arrow_vega_lite_chart"))
    sides.select("oat").select("pea").run()
    assert not at.exception
    assert any("Pea protein shake needs" in text.value and "80 %" in text.value for text in at.markdown)
    assert len(at.get("vega_lite_chart")) + len(at.get("arrow_vega_lite_chart")) == drawn + 1
