"""No file is moved or removed while it is open: Windows refuses that. Looked at on Linux, which tells what is open."""

import os
import sys
from pathlib import Path

import pytest
import store_tables

OPEN = Path("/proc/self/fd")
pytestmark = pytest.mark.skipif(not OPEN.is_dir(), reason="the system does not tell which files are open")


def opened():
    """Return the files that this process holds."""
    found = set()
    for number in os.listdir(OPEN):
        try:
            found.add(Path(os.readlink(OPEN / number)))
        except OSError:  # the one that listed them
            continue
    return found


class Watch:
    """Notes what is moved or removed while it, or something in it, is open."""

    def __init__(self):
        self.on, self.moved, self.held = False, 0, []

    def __call__(self, event, args):
        if self.on and event in {"os.rename", "os.remove", "shutil.rmtree"}:
            self.on, now = False, opened()
            for path in (Path(os.path.realpath(os.fsdecode(p))) for p in args[: 1 + (event == "os.rename")]):
                self.moved += 1
                self.held += [file for file in now if path in (file, *file.parents)]
            self.on = True


@pytest.fixture(scope="module")
def hooked():
    """A hook for the rest of the process: one cannot be taken back, but sleeps."""
    sys.addaudithook(watch := Watch())
    return watch


@pytest.fixture
def watch(hooked):
    hooked.moved, hooked.held, hooked.on = 0, [], True
    yield hooked
    hooked.on = False


def test_what_is_open_when_it_is_removed_is_seen(watch, tmp_path):
    path = tmp_path / "table.csv"
    path.write_text("a")
    with path.open():
        path.replace(tmp_path / "other.csv")
    with (tmp_path / "other.csv").open():
        (tmp_path / "other.csv").unlink()
    assert watch.held == [path, tmp_path / "other.csv"]


def test_nothing_is_moved_or_removed_while_it_is_open(watch, tmp_path):
    bench = store_tables.stocked(tmp_path / "kitchen")
    bench.load(readings=store_tables.readings())
    for target in ("out", "out.xlsx"):
        bench.export(tmp_path / target)
        bench.load(bench.export(tmp_path / target))
    bench.merge(bench.backup(tmp_path / "copy"))
    assert watch.moved > 20
    assert watch.held == []
