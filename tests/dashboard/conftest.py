"""Benches to look at, the dashboard without a browser, and a browser on the running dashboard."""

from __future__ import annotations

import functools
import shutil
from pathlib import Path

import pytest
from browsing import APP, Visit, serving

from pairing.bench import Bench
from pairing.host import trust
from pairing_dashboard import background

SCAN = "scan_component_manifests"
BROKEN = """
from pairing.api import Rule, View, hookimpl
import numpy as np

PAIRING_API = (1, 0)


@hookimpl
def pairing_rules(settings):
    return [
        Rule(
            id="not-a-number",
            summary="Returns what is no number",
            source="from memory",
            acts_on="liking",
            feature=lambda table: np.full(len(table), np.nan),
            because=lambda recipe: "never",
        )
    ]


@hookimpl
def pairing_views():
    def show(bench, model):
        raise RuntimeError("the drawing fell over")

    return [View(name="falls-over", title="Falls over", show=show)]
"""


@pytest.fixture(scope="session")
def models(tmp_path_factory):
    """One bench of each kind, made once and copied for every test."""
    import pandas as pd

    import pairing_demo_data

    place = tmp_path_factory.mktemp("benches")
    Bench.create(place / "empty")
    one = Bench.create(place / "one")
    one.load(
        bases=pd.DataFrame([{"base_id": "oat", "name": "Oat drink"}]),
        flavourings=pd.DataFrame(
            [{"flavouring_id": "plum", "name": "Plum drops", "label_dose": "3 drops per 100 ml", "food_use": "yes"}]
        ),
        readings=pd.DataFrame(
            [
                {
                    "trial_id": "t1",
                    "base_id": "oat",
                    "flavouring_id": "plum",
                    "dose_g_per_kg": 1.0,
                    "strength": 3,
                    "liking": 7,
                }
            ]
        ),
    )
    demo = Bench.create(place / "demo")
    demo.load(**pairing_demo_data.files())
    demo.learn(random_state=0)
    shutil.copytree(place / "one", place / "faulty")
    (place / "faulty" / "plugins" / "broken.py").write_text(BROKEN)
    (place / "faulty" / "plugins" / "no_import.py").write_text("import nothing_of_that_name\n")
    return place


@pytest.fixture
def bench_at(models, tmp_path):
    """Return a function that makes a fresh copy of a bench of a kind."""

    def copy(kind: str) -> Path:
        shutil.copytree(models / kind, tmp_path / kind, dirs_exist_ok=True)
        trust(tmp_path / kind)
        return tmp_path / kind

    return copy


@pytest.fixture(scope="session", autouse=True)
def _tidy():
    yield
    from streamlit.testing.v1.app_test import TMP_DIR

    TMP_DIR.cleanup()


@pytest.fixture(scope="session", autouse=True)
def _components_found_once():
    """Streamlit reads about all installed packages for every app that a test opens: once tells the same."""
    from streamlit.components.v2 import manifest_scanner

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(manifest_scanner, SCAN, functools.cache(getattr(manifest_scanner, SCAN)))
        yield


@pytest.fixture
def app(bench_at, monkeypatch):
    """Return a function that opens a view on a bench of a kind, without a browser."""
    from streamlit.testing.v1 import AppTest

    monkeypatch.chdir(bench_at("empty").parent)
    monkeypatch.setattr(background, "AT_ONCE_S", 60)  # one run shows what is known in the end

    def open_view(kind: str, view: str = "next_cups", query: dict[str, str] | None = None) -> AppTest:
        path = Path("nowhere") if kind == "none" else bench_at(kind)
        monkeypatch.setenv("PAIRING_BENCH", str(path))
        at = AppTest.from_file(str(APP), default_timeout=60)
        at.query_params.update(query or {})
        at.switch_page(f"views/{view}.py")
        at.run()
        assert not at.exception, at.exception
        at.bench_path = path
        return at

    return open_view


@pytest.fixture
def visit(browser, bench_at, tmp_path):
    """Return a function that serves a bench of a kind (once per test) and opens a window on it.

    A request to another machine, or an error on the page, fails the test.
    """
    served: dict[str, object] = {}
    visits: list[Visit] = []

    def open_window(kind: str = "demo", **options) -> Visit:
        if kind not in served:
            path = bench_at(kind)
            context = serving(path, tmp_path / f"{kind}.log", warm=True)
            served[kind] = (context, context.__enter__(), path)
        visits.append(Visit(browser, served[kind][1], **options))
        visits[-1].bench = Bench.open(served[kind][2])
        return visits[-1]

    yield open_window
    for one in visits:
        one.close()
    for context, *_ in served.values():
        context.__exit__(None, None, None)
    assert [leak for one in visits for leak in one.leaks] == []
    assert [error for one in visits for error in one.errors] == []
