"""A bench that may be read only is asked and exported as any other, and says once that nothing new is kept."""

import json
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from unprivileged import held_back

import pairing_demo_data
from pairing import Bench
from pairing.store.database import FILE_NAME


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "bench"
    bench = Bench.create(folder)
    bench.load(**pairing_demo_data.files())
    bench.learn()
    return folder


@pytest.fixture
def sealed(demo, tmp_path):
    """Return a bench that nobody may write."""
    bench = tmp_path / "sealed"
    shutil.copytree(demo, bench)
    seal(bench)
    yield bench
    for path in (bench, *bench.rglob("*")):
        path.chmod(0o755)


def seal(bench):
    for path in (*bench.rglob("*"), bench):
        path.chmod(0o555 if path.is_dir() else 0o444)


SEVERAL = """
import contextlib, io, json, sys
from pairing.cli import main
bench, *commands = json.loads(sys.argv[1])
answers = []
for words in commands:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*words, "--bench", bench, "--json"])
    answers.append((code, json.loads(out.getvalue()), err.getvalue()))
print(json.dumps(answers))
"""


def ask(bench, *commands):
    """Run commands in one process that may write only what permissions allow; return code, answer and words of each."""
    run = held_back([sys.executable, "-c", SEVERAL, json.dumps([str(bench), *commands])])
    done = subprocess.run(run, cwd=bench.parent, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return zip(commands, json.loads(done.stdout), strict=True)


def contents(bench):
    return {path.name: path.read_bytes() for path in bench.iterdir() if path.is_file()}


def test_it_is_asked_and_exported_and_says_once_that_nothing_is_kept(sealed, demo, tmp_path):
    before = contents(sealed)
    asked = ask(
        sealed,
        ["suggest", "-n", "1"],
        ["suggest", "-n", "1", "--plugins", ""],
        ["dose", "oat", "quince"],
        ["compare", "--family", "fruit"],
        ["graph"],
        ["doctor"],
        ["plugins"],
        ["card", "oat|quince=1.2", "--to", str(tmp_path / "card.html")],
        ["export", str(tmp_path / "out")],
    )
    for words, (code, _, said) in asked:
        assert code == 0, (words, said)
        (told,) = [line for line in said.splitlines() if "may be read only" in line]
        assert "nothing new is kept" in told
    Bench.open(demo).export(tmp_path / "wanted")
    assert contents(tmp_path / "out") == contents(tmp_path / "wanted")
    assert contents(sealed) == before


def test_what_would_write_is_refused_with_the_remedy(sealed):
    before = contents(sealed)
    log = ["log", "oat", "--base-g", "200", "--add", "quince=0.3g", "--liking", "7"]
    for words, (code, answer, _) in ask(sealed, log, ["undo"], ["calibrate", "quince", "20=0.7"]):
        assert code == 1, words
        assert "readonly database" in answer["error"]
        assert "writable" in answer["hint"]
    assert contents(sealed) == before


@pytest.mark.parametrize("which", ["the file alone", "the folder alone"])
def test_one_of_both_is_enough(demo, tmp_path, which):
    bench = tmp_path / "sealed"
    shutil.copytree(demo, bench)
    (bench / FILE_NAME if "file" in which else bench).chmod(0o444 if "file" in which else 0o555)
    try:
        assert [code for _, (code, *_) in ask(bench, ["suggest", "-n", "1"], ["undo"])] == [0, 1]
    finally:
        bench.chmod(0o755)


def test_what_is_in_the_log_beside_the_file_is_seen(demo, tmp_path):
    whole, bench = tmp_path / "whole", tmp_path / "sealed"
    shutil.copytree(demo, whole)
    with closing(sqlite3.connect(whole / FILE_NAME)) as writer:
        writer.execute("UPDATE settings SET value = '\"CHF\"' WHERE name = 'currency'")
        writer.commit()
        shutil.copytree(whole, bench)  # as a killed process leaves it
    assert (bench / f"{FILE_NAME}-wal").stat().st_size > 0
    seal(bench)
    code = "import sys; from pairing import Bench; print(Bench.open(sys.argv[1]).settings['currency'])"
    run = held_back([sys.executable, "-c", code, str(bench)])
    done = subprocess.run(run, capture_output=True, text=True, check=False)
    for path in (bench, *bench.rglob("*")):
        path.chmod(0o755)
    assert done.stdout == "CHF\n", done.stderr
    assert done.stderr.count("may be read only") == 1


def test_one_of_an_earlier_version_has_to_be_copied_first(tmp_path):
    bench = tmp_path / "sealed"
    bench.mkdir()
    shutil.copy(Path(__file__).parent / "kept" / "version-1" / FILE_NAME, bench)
    seal(bench)
    ((_, (code, answer, _)),) = ask(bench, ["suggest"])
    for path in (bench, *bench.rglob("*")):
        path.chmod(0o755)
    assert code == 1
    assert "may be read only" in answer["error"]
    assert "copy its folder" in answer["hint"]
    assert [path.name for path in bench.iterdir()] == [FILE_NAME]


def test_a_bench_says_itself_whether_it_can_be_written(sealed, demo):
    code = "import sys; from pairing import Bench; print(Bench.open(sys.argv[1]).read_only)"
    for bench, read_only in ((sealed, True), (demo, False)):
        run = held_back([sys.executable, "-c", code, str(bench)])
        assert subprocess.run(run, capture_output=True, text=True, check=True).stdout == f"{read_only}\n"
