"""Kinds of files that plugins read and write."""

import pandas as pd
import pytest
from plugin_lab import drop_in, load_one

from pairing import Bench
from pairing.cli import main
from pairing.errors import PairingError, PluginError
from pairing.host.formats import read_file, write_file, writer_for

FORMAT = """
import pandas as pd
from pairing.api import Reader, Writer
def read(path):
    {read}
    return {{"bases": pd.DataFrame([line.split("=") for line in path.read_text().splitlines()],
                                   columns=["base_id", "name"])}}
def write(tables, path):
    {write}
    rows = zip(tables["bases"]["base_id"], tables["bases"]["name"])
    path.write_text("\\n".join(f"{{a}}={{b}}" for a, b in rows))
@hookimpl
def pairing_readers():
    return [Reader(id="pairs", suffixes=(".pairs",), summary="Pairs", read=read)]
@hookimpl
def pairing_writers():
    return [Writer(id="pairs", suffixes=(".pairs",), summary="Pairs", tables=("bases",), write=write)]
"""
BASES = pd.DataFrame({"base_id": ["oat", "whey"], "name": ["Oat drink", "Whey drink"]})


def formats(tmp_path, read="pass", write="pass"):
    return load_one(tmp_path, FORMAT.format(read=read, write=write))[0]


def test_a_bench_is_written_and_read_by_the_end_of_the_name(tmp_path, capsys):
    bench = Bench.create(tmp_path / "bench").choose_plugins("lab")
    drop_in(tmp_path / "bench", "lab", FORMAT.format(read="pass", write="pass"))
    bench.choose_plugins("lab").load(bases=BASES)
    assert main(["export", str(tmp_path / "all.pairs"), "--bench", str(tmp_path / "bench")]) == 0
    assert (tmp_path / "all.pairs").read_text() == "oat=Oat drink\nwhey=Whey drink"
    Bench.create(tmp_path / "other")
    drop_in(tmp_path / "other", "lab", FORMAT.format(read="pass", write="pass"))
    assert main(["load", str(tmp_path / "all.pairs"), "--bench", str(tmp_path / "other")]) == 0
    assert Bench.open(tmp_path / "other").tables("bases")["name"].tolist() == ["Oat drink", "Whey drink"]
    third = Bench.create(tmp_path / "third")
    drop_in(tmp_path / "third", "lab", FORMAT.format(read="pass", write="pass"))
    assert third.load(tmp_path / "all.pairs").accepted == {"bases": 2}


def test_what_a_format_cannot_hold_is_refused_and_nothing_is_written(tmp_path):
    loaded = formats(tmp_path)
    path = tmp_path / "all.pairs"
    readings = pd.DataFrame({"trial_id": ["t1"]})
    with pytest.raises(PluginError, match="lab:pairs cannot hold readings"):
        write_file(writer_for(loaded, path), {"bases": BASES, "readings": readings}, path)
    assert not path.exists()


@pytest.mark.parametrize("write", ["1 / 0", "path.write_text('half'); raise ValueError", "return"])
def test_a_writer_that_fails_leaves_the_file_that_was_there(tmp_path, write):
    loaded, path = formats(tmp_path, write=write), tmp_path / "all.pairs"
    path.write_text("kept")
    with pytest.raises(PairingError, match="plugin lab"):
        write_file(writer_for(loaded, path), {"bases": BASES}, path)
    assert path.read_text() == "kept"
    assert not list(tmp_path.glob(".unfinished*"))


@pytest.mark.parametrize(
    ("read", "told"),
    [
        ("1 / 0", "ZeroDivisionError"),
        ("return [1]", "read returned list"),
        ("return {'bases': 3}", "bases is int"),
        ("return {'basis': None}", "did you mean bases"),
    ],
)
def test_a_reader_that_fails_is_named_and_the_next_is_asked(tmp_path, read, told):
    path = tmp_path / "all.pairs"
    path.write_text("oat=Oat drink")
    found, (fault,) = read_file(formats(tmp_path, read=read), path)
    assert found is None
    assert told in fault.line
    assert fault.subject == "all.pairs"


@pytest.mark.parametrize("suffixes", ["()", "('pairs',)", "('.csv',)", "('.CSV',)", "(3,)"])
def test_ends_of_names_are_checked(tmp_path, suffixes):
    loaded, plugin = load_one(tmp_path, FORMAT.replace('(".pairs",)', suffixes).format(read="pass", write="pass"))
    assert (loaded.readers, loaded.writers) == ((), ())
    assert plugin.state == "partly"
    assert "suffixes" in loaded.faults[0].line
