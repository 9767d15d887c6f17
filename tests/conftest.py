"""What holds for all tests."""

from __future__ import annotations

import gc
import itertools
import os
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import postgres
import pytest
from browsing import CHROMIUM, FLAGS
from hypothesis import HealthCheck, settings

# No property reads the clock: a loaded machine finds the same faults as an idle one.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")
# What tests start, often hundreds of processes, is compiled once: on some machines the environment forbids that.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# Benches lie in memory where there is room: nothing of a test needs to survive the machine, and SQLite waits for the
# disk several times at each commit.
MEMORY = Path("/dev/shm")
ROOM_BYTES = 8e9
if MEMORY.is_dir() and not os.statvfs(MEMORY).f_flag & os.ST_NOEXEC and shutil.disk_usage(MEMORY).free > ROOM_BYTES:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))


def pytest_collection_finish() -> None:
    """Set apart what is there before the first test: else each search for garbage goes over ten thousand tests."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def _configuration(tmp_path_factory):
    """Keep what tests trust in a configuration folder of their own; what they start finds it too."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("configuration")))
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
        yield


_PLACES = itertools.count()


@pytest.fixture
def tmp_path(tmp_path: Path) -> Path:
    """Return a folder that no other test of this process had: what one kept of a path is not taken for another's."""
    place = tmp_path / str(next(_PLACES))
    place.mkdir()
    return place


@pytest.fixture(scope="session")
def learned_demo(tmp_path_factory) -> Path:
    """The demo's bench, made and learned once in each process: tests copy it."""
    from pairing.cli import main

    folder: Path = tmp_path_factory.mktemp("demo") / "bench"
    assert main(["demo", "--bench", str(folder), "--json"]) == 0
    return folder


@pytest.fixture(autouse=True)
def wide(monkeypatch):
    """Give tables room, whatever terminal the tests run in."""
    monkeypatch.setenv("COLUMNS", "140")


@pytest.fixture
def interruptible() -> Iterator[None]:
    """Let Ctrl-C interrupt, where the tests were started in the background, too: a shell turns it off there."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def _need(what: str) -> None:
    """Skip for want of a program, or fail where it has to be there."""
    if os.environ.get("CI") == "true" or os.environ.get("REQUIRE_BROWSER") == "1":
        pytest.fail(f"{what} (CI or REQUIRE_BROWSER is set)", pytrace=False)
    pytest.skip(what)


@pytest.fixture(scope="session")
def browser():
    """One Chromium per process: the library that drives it runs once in each."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _need("tests in a browser need Playwright: pip install -e '.[test]'")
    if not os.access(CHROMIUM, os.X_OK):
        _need(f"tests in a browser need Chromium at {CHROMIUM}: apt-get install chromium, or set CHROMIUM")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def server() -> Iterator[postgres.Server]:
    """One PostgreSQL server per process, started when a test first asks for it."""
    programs = postgres.binaries()
    if programs is None:
        _need("tests on PostgreSQL need a server: apt-get install postgresql")
    started = postgres.Server(programs)
    yield started
    started.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request) -> str:
    """Return the database that a test runs on: each test that asks for it, or for `place`, runs on both."""
    if request.param == "postgresql":
        request.getfixturevalue("server").empty()
    return request.param


@pytest.fixture
def place(engine, tmp_path, request) -> Callable[..., Any]:
    """Return a function that names a place for a bench: a folder, or the URL of a schema of the server."""

    def name_it(name: str = "kitchen", restore: Path | None = None) -> Any:
        if engine == "sqlite":
            return tmp_path / name
        server = request.getfixturevalue("server")
        if restore is not None:
            server.execute("DROP SCHEMA public CASCADE", "CREATE SCHEMA public")
            server.restore(restore)
            return server.url()
        server.execute(f'CREATE SCHEMA IF NOT EXISTS "{name}"')
        return server.url(name)

    return name_it
