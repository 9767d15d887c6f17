"""Making a bench can be stopped at any moment: afterwards it is there, or it can be made."""

import json
import os
import subprocess
import sys

import pytest

from pairing import Bench
from pairing.cli import main
from pairing.cli.demo import MARK
from pairing.errors import StoreError
from pairing.store.database import FILE_NAME

STOPPED = """
import json, os, sys
import _sqlite3
from pathlib import Path
from pairing import Bench

Bench.create(Path(sys.argv[1]) / "first")  # whatever is loaded once is loaded
REACHES_OUT = {"mkdir", "open", "rename", "replace", "link", "unlink", "connect", "execute", "executemany", "commit",
               "close", "write"}


def dies_at(step):
    left = step

    def count(frame, event, called):
        nonlocal left
        if event in ("c_call", "c_return") and getattr(called, "__name__", "") in REACHES_OUT:
            owner = type(getattr(called, "__self__", None)).__module__ + str(getattr(called, "__module__", ""))
            if "sqlite3" in owner or "posix" in owner or "io" in owner:
                left -= 1
                if left == 0:
                    os._exit(9)

    sys.setprofile(count)


step, ended = 0, []
while not ended or ended[-1] == 9:
    step += 1
    child = os.fork()
    if not child:
        dies_at(step)
        Bench.create(Path(sys.argv[1]) / f"step {step}")
        os._exit(0)
    ended.append(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
print(json.dumps(ended))
"""


def opened(place):
    """Open a bench; None where it says that there is none yet and how to make it."""
    try:
        return Bench.open(place)
    except StoreError as error:
        if "pairing init" not in error.hint:
            raise
        return None


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_bench_whose_making_was_stopped_at_any_step_is_there_or_can_be_made(tmp_path):
    done = subprocess.run([sys.executable, "-c", STOPPED, tmp_path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    ended = json.loads(done.stdout)
    assert ended[-1] == 0
    assert len(ended) > 20, "it was stopped at many steps"
    made = 0
    for step in range(1, len(ended) + 1):
        place = tmp_path / f"step {step}"
        if (bench := opened(place)) is not None:
            made += 1
        else:
            bench = Bench.create(place)
        assert bench.revision == 0
        assert bench.settings["currency"] == "EUR"
        assert sorted(p.name for p in place.iterdir()) == [FILE_NAME, "plugins"]
    assert 1 <= made < len(ended) / 2, "most steps are before it is whole"


def test_an_empty_file_is_no_bench_yet_and_becomes_one(tmp_path, capsys):
    (tmp_path / FILE_NAME).touch()
    with pytest.raises(StoreError, match="is no bench yet: it is empty, or making it was not finished — make it with"):
        Bench.open(tmp_path)
    assert main(["suggest", "--bench", str(tmp_path)]) == 1
    assert "pairing init" in capsys.readouterr().err
    assert main(["init", "--bench", str(tmp_path)]) == 0
    assert Bench.open(tmp_path).revision == 0


def test_a_file_of_something_else_is_left_alone(tmp_path):
    import sqlite3
    from contextlib import closing

    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    with closing(sqlite3.connect(tmp_path / "a" / FILE_NAME)) as other, other:
        other.execute("CREATE TABLE letters (x)")
    (tmp_path / "b" / FILE_NAME).write_bytes(b"no database at all" * 100)
    before = [(tmp_path / name / FILE_NAME).read_bytes() for name in "ab"]
    with pytest.raises(StoreError, match="holds another database, with a table letters"):
        Bench.create(tmp_path / "a")
    with pytest.raises(StoreError, match="file is not a database"):
        Bench.create(tmp_path / "b")
    assert [(tmp_path / name / FILE_NAME).read_bytes() for name in "ab"] == before


def test_two_that_make_one_bench_at_once_make_one(tmp_path):
    code = "import sys; from pairing.cli import main; sys.stdin.readline(); raise SystemExit(main(sys.argv[1:]))"
    command = [sys.executable, "-c", code, "init", "--bench", str(tmp_path / "kitchen")]
    both = [
        subprocess.Popen([*command, "--currency", currency], stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for currency in ("EUR", "CHF")
    ]
    for one in both:
        one.stdin.write("\n")
        one.stdin.flush()
    said = [one.communicate(timeout=120)[1] for one in both]
    assert sorted(one.returncode for one in both) == [0, 1], said
    winner = "EUR" if both[0].returncode == 0 else "CHF"
    assert "there is a bench already" in "".join(said)
    assert Bench.open(tmp_path / "kitchen").settings["currency"] == winner


def test_a_demo_that_was_stopped_goes_on(tmp_path, capsys):
    (tmp_path / MARK).touch()
    (tmp_path / FILE_NAME).touch()
    assert main(["demo", "--bench", str(tmp_path), "-n", "1"]) == 0
    capsys.readouterr()
    assert len(Bench.open(tmp_path).tables("bases")) == 4
