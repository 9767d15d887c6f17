"""Every view on an empty bench, after one cup, on the demo, and with faulty plugins."""

import pytest

from pairing_dashboard.navigation import VIEWS

TITLES = {name: title for views in VIEWS.values() for name, title, _ in views}


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
    assert files == set(TITLES)


def test_no_bench_yet_offers_to_begin(app):
    at = app("none")
    assert [t.label for t in at.tabs] == ["Look at a demo", "Import tables", "Three questions"]
    assert not at.bench_path.exists()  # looking makes nothing
