"""What is learned is kept only while all that it rests on is the same."""

import shutil
import sys
import types

import pytest
from plugin_lab import GOOD_RULE, HEAD, drop_in, install

from pairing import Bench, host
from pairing.cli import main

READS = """
from pathlib import Path
HERE = Path(__file__).parent
def feature(table):
    return table.base_index * 0.0 + float((HERE / "figure.txt").read_text())
@hookimpl
def pairing_rules(settings):
    return [rule("reads", feature, depends_on={})]
"""


@pytest.fixture
def bench(learned_demo, tmp_path):
    return shutil.copytree(learned_demo, tmp_path / "bench")


def fingerprint(folder=None, only="lab"):
    return host.load(folder, only).fingerprint


def test_whatever_lies_beside_a_file_counts(tmp_path):
    path = drop_in(tmp_path, "lab", READS.format("()"))
    (path.parent / "figure.txt").write_text("0.1")
    host.trust(tmp_path)
    before = fingerprint(tmp_path)
    assert fingerprint(tmp_path) == before
    (path.parent / "figure.txt").write_text("0.2")
    host.trust(tmp_path)
    assert fingerprint(tmp_path) != before


def test_modules_and_data_of_a_package_count(site):
    module = install(site, "lab", "")
    (site / f"{module}.py").unlink()
    (site / module).mkdir()
    (site / module / "__init__.py").write_text(HEAD + "from .helper import SHARE\n" + GOOD_RULE)
    (site / module / "helper.py").write_text("SHARE = 1\n")
    before = fingerprint()
    (site / module / "helper.py").write_text("SHARE = 2\n")
    after = fingerprint()
    assert after != before
    (site / module / "__pycache__").mkdir(exist_ok=True)
    (site / module / "__pycache__" / "x.pyc").write_bytes(b"x")
    assert fingerprint() == after


@pytest.mark.parametrize("place", ["rule", "plugin"])
def test_what_is_declared_counts(tmp_path, place):
    def write(key):
        given = f'(Path("../prices.csv"), "{key}")'
        head = HEAD + (f"\nfrom pathlib import Path\ndepends_on = {given}\n" if place == "plugin" else "")
        drop_in(tmp_path, "lab", READS.format(given if place == "rule" else "()"), head=head)

    (tmp_path / "prices.csv").write_text("oat,1\n")
    write("tariff 7")
    before = fingerprint(tmp_path)
    (tmp_path / "prices.csv").write_text("oat,2\n")
    after = fingerprint(tmp_path)
    assert after != before
    (tmp_path / "prices.csv").write_text("oat,1\n")
    assert fingerprint(tmp_path) == before


def test_what_cannot_be_read_is_learned_afresh_and_said(bench, capsys):
    drop_in(bench, "lab", READS.format('Path("prices.csv")'))
    (bench / "plugins" / "figure.txt").write_text("0.1")
    host.trust(bench)
    opened = Bench.open(bench).choose_plugins("lab", False)
    (fault,) = opened.host.faults
    assert fault.note
    assert "prices.csv cannot be read" in fault.line
    assert [p.state for p in opened.host.plugins if p.name == "lab"] == ["loaded"]
    kept = []
    opened.store_blob = lambda *blob: kept.append(blob)
    opened.learn()
    assert kept == []
    assert fingerprint(bench) != fingerprint(bench)
    assert main(["suggest", "--bench", str(bench), "--plugins", "lab"]) == 0
    assert "learned afresh each time" in capsys.readouterr().err
    (bench / "plugins" / "prices.csv").write_text("oat,1\n")
    host.trust(bench)
    again = Bench.open(bench).choose_plugins("lab", False)
    again.store_blob = lambda *blob: kept.append(blob)
    again.learn()
    assert len(kept) == 1


def test_a_plugin_without_a_file_and_a_wrong_kind_are_named(tmp_path):
    module = types.ModuleType("nowhere")
    exec(HEAD + GOOD_RULE, module.__dict__)
    loaded = host.load_module(module, "lab")
    assert "lies in no file" in loaded.faults[0].line
    assert not loaded.lasting
    assert host.load_module(module, "lab").fingerprint == loaded.fingerprint
    drop_in(tmp_path, "lab", READS.format("3"))
    assert "depends_on is 3" in host.load(tmp_path, "lab").faults[0].line
    assert "nowhere" not in sys.modules
