"""Programs killed at a random moment leave a bench whole; `tests/benchmarks/store_kills.py` kills hundreds."""

import signal

import killing
import pytest

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", killing.WORKS)
def test_a_program_killed_at_any_moment_leaves_a_whole_bench(name, seed):
    killing.killed(name, seed)


def test_a_program_that_leaves_half_a_cup_is_found_out(monkeypatch):
    half = 'bench = Bench.open(place)\ngo()\nbench.log(cup("cup-0"))\nbench._db.write("", lambda tx: tx.execute('
    half += 'tx.table("steps").delete().where(tx.table("steps").c.step == 2)))\ngo(1)\nsys.stdin.read()'
    work = killing.WORKS["logging"]
    monkeypatch.setitem(killing.WORKS, "half", killing.Work(work.prepare, half, work.check))
    monkeypatch.setattr(killing.random.Random, "uniform", lambda *_: 5.0)
    with pytest.raises(AssertionError):
        killing.killed("half", 0)
