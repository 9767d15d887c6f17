"""Other kitchens: a prior is looked at, adopted and dropped; what would leave is shown, given and taken back."""

import io

import streamlit as st
from tapping import press

from pairing import Bench
from pairing.cli.demo import PRIOR
from pairing_dashboard import people


def html(at):
    return " ".join(h.proto.body for h in at.get("html"))


def test_a_prior_is_looked_at_then_adopted_then_dropped(app, monkeypatch):
    page = app("demo", "pool")
    bench = Bench.open(page.bench_path)
    file = io.BytesIO(PRIOR.read_bytes())
    file.name = "prior.npz"
    monkeypatch.setattr(st, "file_uploader", lambda *_, **__: file)
    page.run()
    assert "40" in html(page)
    assert "4 known" in html(page)
    assert bench.adopted is None
    press(page, "Adopt it")
    assert bench.adopted is not None
    assert "Your own cups say" in html(page)  # what is shown is learned with it, not from what was kept before
    press(page, "Drop it: use your own cups alone")
    assert bench.adopted is None
    file.seek(0)
    monkeypatch.setattr(file, "getvalue", lambda: b"no prior")
    page.run()
    assert "is no prior, or is spoilt" in page.error[0].value


def test_what_would_leave_is_shown_then_given_then_taken_back(app, tmp_path):
    page = app("demo", "pool")
    pool = tmp_path / "pool"
    page.text_input(key="pool-folder").set_value(str(pool))
    page.text_input(key="pool-kitchen").set_value("boathouse").run()
    assert page.error  # nothing leaves unless it has a public id, or is kept at home
    bench = Bench.open(page.bench_path)
    shelf = bench.shelf()
    bench.name_publicly({i: i for i in (*shelf.bases, *shelf.flavourings)})
    page.run()
    assert not page.exception
    assert "would leave" in html(page)
    assert not pool.exists()
    press(page, "Give it")
    assert (pool / "kitchen=boathouse" / "part-0.parquet").exists()
    press(page, "Take back what this kitchen gave")
    assert not (pool / "kitchen=boathouse").exists()


def test_only_an_owner_gives(app, monkeypatch):
    monkeypatch.setattr(people, "who", lambda: ("ana", "keeper"))
    at = app("demo", "pool")
    assert [tab.label for tab in at.tabs] == ["From others"]
