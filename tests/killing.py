"""Programs that are killed at a random moment of what they do to a bench, and what has to hold afterwards.

`tests/store/test_kills.py` kills a few, `tests/benchmarks/store_kills.py` hundreds.
"""

import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import store_tables

from pairing import Bench, Cup, Recipe
from pairing.errors import StoreError, TableError
from pairing.store import bulk

KEPT = Path(__file__).parent / "store" / "kept"
ROWS = 400
START = """
import itertools, sys
from pathlib import Path
import pandas as pd
from pairing import Bench, Cup
from pairing.store import bulk
bulk.AT_ONCE, bulk._BREATH = 50, 0.0
place = Path(sys.argv[1])
def cup(name):
    return Cup("oat", base_g=300, trial_id=name).add("quince", g=0.3).sip(g=10).read(strength={"quince": 3})
def many(first, n):
    trials = [f"t{i}" for i in range(first, first + n)]
    return pd.DataFrame({"trial_id": trials, "base_id": "oat", "flavouring_id": "quince", "dose_g_per_kg": 1.0})
def go(n=0):
    print(n, flush=True)
"""
LOGGING = """
bench = Bench.open(place)
for n in itertools.count():
    go(n)
    bench.log(cup(f"cup-{n}"), liking=7)
"""
LOADING = f"""
bench = Bench.open(place)
for n in itertools.count():
    go(n)
    bench.load(readings=many({ROWS} * n, {ROWS}))
"""
EXPORTING = """
bench = Bench.open(place)
for n in itertools.count():
    go(n)
    bench.export(place.with_name("out"))
    bench.log(cup(f"cup-{n}"))
"""
UNDOING = """
bench = Bench.open(place)
for n in itertools.count():
    go(n)
    bench.log(cup(f"cup-{n}"))
    bench.undo()
"""
MIGRATING = """
go()
Bench.open(place)
go(1)
sys.stdin.read()
"""
MERGING = """
bench = Bench.open(place)
for n in itertools.count():
    go(n)
    bench.merge(place.with_name("other"))
    bench.undo()
"""
MAKING = """
for n in itertools.count():
    go(n)
    Bench.create(place / str(n))
"""
LEARNING = """
bench = Bench.open(place).choose_plugins("")
bench.learn()
for n in itertools.count():
    go(n)
    bench.log(cup(f"cup-{n}"), liking=1 + n % 9)
    bench.learn()
"""


@dataclass(frozen=True)
class Work:
    """What a program does, on what, and how it is looked at after its death.

    Attributes
    ----------
    prepare : callable
        Makes the bench in a folder.
    code : str
        Of the program; it prints the number of every round that it begins.
    check : callable
        Is given the folder and the number printed last.
    """

    prepare: Callable[[Path], None]
    code: str
    check: Callable[[Path, int], None]


def stocked(place: Path) -> None:
    """Make a bench with two bases and two flavourings."""
    store_tables.stocked(place)


def whole(place: Path) -> Bench:
    """Open a bench of which the database finds no fault, and log a cup."""
    bench = Bench.open(place).choose_plugins("")
    with closing(sqlite3.connect(place / "bench.sqlite")) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert not raw.execute("PRAGMA foreign_key_check").fetchall()
    bench.log(Cup("oat", base_g=300, trial_id="after").add("quince", g=0.3).read(liking=5))
    return bench


def after_logging(place: Path, rounds: int) -> None:
    """Every cup that was told is there, at most one more, and each with all of its steps."""
    bench = whole(place)
    trials, steps = bench.trials("cup-"), bench.tables("steps")
    assert rounds <= len(trials) <= rounds + 1
    assert steps[steps["trial_id"] != "after"].groupby("trial_id").size().tolist() == [3] * len(trials)


def after_loading(place: Path, rounds: int) -> None:
    """Loads are there whole or not at all, and what one had begun is swept out."""
    bench = whole(place)
    assert bench.count()["readings"] - 1 in (ROWS * rounds, ROWS * (rounds + 1))
    bench._db.write("", lambda tx: tx.execute(tx.table("revisions").update().values(at="2020")))
    bulk.sweep(bench._db, "")
    with closing(sqlite3.connect(place / "bench.sqlite")) as raw:
        assert raw.execute("SELECT count(*) FROM readings").fetchone()[0] == bench.count()["readings"]


def after_exporting(place: Path, rounds: int) -> None:
    """What was exported is of one state, or is refused; the next export mends it."""
    bench, out = whole(place), place.with_name("out")
    if out.exists():
        try:
            again = Bench.create(place.with_name("again"))
            assert again.load(out).refused.empty
            assert set(again.tables("steps")["trial_id"]) == set(again.trials())
            assert again.revision <= bench.revision
        except TableError as error:
            if "stopped half-way" not in str(error) and "no tables of a bench" not in str(error):
                raise
    assert Bench.create(place.with_name("mended")).load(bench.export(out)).refused.empty


def after_undoing(place: Path, rounds: int) -> None:
    """A cup is there or taken back, and revisions have no gap."""
    bench = whole(place)
    assert len(bench.trials("cup-")) <= 1
    assert bench.history()["revision"].tolist() == list(range(1, bench.revision + 1))


def of_version_1(place: Path) -> None:
    """Put a bench of the first version there."""
    place.mkdir()
    shutil.copy(KEPT / "version-1" / "bench.sqlite", place / "bench.sqlite")


def after_migrating(place: Path, rounds: int) -> None:
    """It opens, and nothing is lost."""
    bench = Bench.open(place)
    for name in ("bases", "readings", "steps", "comparisons"):
        then = pd.read_csv(KEPT / "version-1" / "export" / f"{name}.csv", dtype=str)
        assert bench.tables(name).iloc[:, 0].tolist() == then.iloc[:, 0].tolist()


def two(place: Path) -> None:
    """Make two benches."""
    stocked(place)
    other = store_tables.stocked(place.with_name("other"))
    other.load(readings=store_tables.readings())
    other.load(bases=pd.DataFrame({"base_id": ["rice"], "name": ["Rice drink"]}))


def after_merging(place: Path, rounds: int) -> None:
    """The other bench is in it whole or not at all."""
    bench = whole(place)
    assert (len(bench.tables("bases")), len(bench.tables("readings")) - 1) in ((2, 0), (3, 3))


def after_making(place: Path, rounds: int) -> None:
    """Every bench is there, or can be made."""
    for n in range(rounds + 1):
        try:
            bench = Bench.open(place / str(n))
        except StoreError as error:
            if "pairing init" not in error.hint:
                raise
            bench = Bench.create(place / str(n))
        assert bench.revision == 0


def tasted(place: Path) -> None:
    """Make a bench with a log."""
    store_tables.stocked(place).load(readings=store_tables.readings())


def after_learning(place: Path, rounds: int) -> None:
    """What was kept answers as what is learned afresh does."""
    bench = whole(place)
    recipes = [Recipe("oat", {"quince": None}), Recipe("soy", {"clove": 0.5})]
    kept = bench.learn().predict(recipes)["liking"]
    bench._db.write("", lambda tx: tx.execute(tx.table("blobs").delete()))
    afresh = Bench.open(place).choose_plugins("").learn().predict(recipes)["liking"]
    np.testing.assert_allclose(kept, afresh, atol=1e-3)


WORKS = {
    "logging": Work(stocked, LOGGING, after_logging),
    "loading": Work(stocked, LOADING, after_loading),
    "exporting": Work(stocked, EXPORTING, after_exporting),
    "undoing": Work(stocked, UNDOING, after_undoing),
    "migrating": Work(of_version_1, MIGRATING, after_migrating),
    "merging": Work(two, MERGING, after_merging),
    "making": Work(lambda place: place.mkdir(), MAKING, after_making),
    "learning": Work(tasted, LEARNING, after_learning),
}


def killed(name: str, seed: int) -> int:
    """Kill a program at its work once, look at what is left, and return how many rounds it had done."""
    work, wait_s = WORKS[name], random.Random(f"{name} {seed}").uniform(0.0, 0.4)
    with TemporaryDirectory() as folder:
        place = Path(folder) / "kitchen"
        work.prepare(place)
        command = [sys.executable, "-c", START + work.code, str(place)]
        program = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        first = program.stdout.readline()
        time.sleep(wait_s)
        program.send_signal(signal.SIGKILL)
        said = [first, *program.communicate()[0].splitlines()]
        assert program.returncode == -signal.SIGKILL, f"it ended by itself: {program.returncode}"
        rounds = int([line for line in said if line.strip()][-1])
        work.check(place, rounds)
    return rounds
