"""A bench is where its name says, whatever characters the name has, and nowhere else."""

import os
import tempfile
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pairing import Bench
from pairing.cli import main
from pairing.cli.bench_check import damage
from pairing.errors import StoreError
from pairing.store.database import FILE_NAME

NAMES = [
    "d%20x", "d x", "%2e%2e", "100%", "a?1", "a?mode=memory", "a#1", "a&b=c", "a+b", "a:b", "a;b", ":memory:", "file:x",
    "Kühe & Brötchen", "茶", "o\u0308", "ends.", "ends...", " led", "led ", "-x", "--json", "'quoted'", '"', "a\\b",
    "$HOME", "~", "*", "[a]", "{a}", "line\nbreak", "n" * 200,
]  # fmt: skip


def bases(name):
    return pd.DataFrame({"base_id": [name], "name": [name]})


def test_benches_with_odd_names_are_kept_apart_and_leave_nothing_elsewhere(tmp_path):
    kitchen = tmp_path / "kitchen"
    for i, name in enumerate(NAMES):
        Bench.create(kitchen / name).load(bases=bases(f"base {i}"))
    for i, name in enumerate(NAMES):
        bench = Bench.open(kitchen / name)
        assert list(bench.tables("bases")["base_id"]) == [f"base {i}"], name
        assert damage(str(kitchen / name)) == []
        with pytest.raises(StoreError, match="there is a bench already"):
            Bench.create(kitchen / name)
    assert sorted(p.name for p in kitchen.iterdir()) == sorted(NAMES)
    assert [p.name for p in tmp_path.iterdir()] == ["kitchen"]
    assert {p.name for name in NAMES for p in (kitchen / name).iterdir()} == {FILE_NAME, "plugins"}


@pytest.mark.parametrize("name", [n for n in NAMES if not n.startswith("-")])
def test_the_command_line_finds_a_bench_by_its_relative_name(tmp_path, monkeypatch, name, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["init", "--bench", name]) == 0
    assert main(["doctor", "--bench", name, "--plugins", ""]) == 0
    assert [p.name for p in tmp_path.iterdir()] == [name]
    assert main(["init", "--bench", name]) == 1
    assert "there is a bench already" in capsys.readouterr().err


@given(st.text(st.characters(exclude_characters="/\0", exclude_categories=("Cs",)), min_size=1, max_size=60))
@settings(max_examples=40)
def test_any_name_that_a_folder_can_have(name):
    if name in (".", "..") or len(os.fsencode(name)) > 200:
        return
    with tempfile.TemporaryDirectory() as folder:
        Bench.create(Path(folder) / name).load(bases=bases("oat"))
        assert len(Bench.open(Path(folder) / name).tables("bases")) == 1
        assert (Path(folder) / name / FILE_NAME).is_file()


def test_an_open_bench_stays_where_it_is_when_the_program_goes_elsewhere(tmp_path, monkeypatch):
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path)
    made = Bench.create("kitchen")
    opened = Bench.open("./elsewhere/../kitchen")
    monkeypatch.chdir(tmp_path / "elsewhere")
    made.load(bases=bases("oat"))
    assert len(opened.tables("bases")) == 1
    assert opened.plugin_folder.resolve() == tmp_path / "kitchen" / "plugins"
    assert made.host.plugins
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_bench_is_one_by_all_its_names(tmp_path):
    bench = Bench.create(tmp_path / "kitchen")
    (tmp_path / "link").symlink_to(tmp_path / "kitchen", target_is_directory=True)
    (tmp_path / "of-the-file").mkdir()
    (tmp_path / "of-the-file" / FILE_NAME).symlink_to(tmp_path / "kitchen" / FILE_NAME)
    for i, place in enumerate(("link", "of-the-file", f"kitchen/{FILE_NAME}")):
        Bench.open(tmp_path / place).load(bases=bases(f"base {i}"))
        assert len(bench.tables("bases")) == i + 1
    assert Bench.open(tmp_path / "kitchen" / FILE_NAME).plugin_folder == tmp_path / "kitchen" / "plugins"
    with pytest.raises(StoreError, match="there is a bench already"):
        Bench.create(tmp_path / "link")


@pytest.mark.parametrize("name", ["n" * 300, "a/" * 3000, "with\0nothing"], ids=["long", "deep", "nothing"])
def test_a_name_that_no_folder_can_have_is_refused(tmp_path, name):
    with pytest.raises(StoreError, match="cannot be made"):
        Bench.create(tmp_path / name)
    with pytest.raises(StoreError, match="there is no bench"):
        Bench.open(tmp_path / name)
