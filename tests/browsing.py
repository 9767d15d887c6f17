"""A real browser on a real dashboard: start both, act, and wait until the page has answered."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

import pytest
import warm_start

APP = Path(__file__).parents[1] / "dashboard" / "app.py"
SERVED = APP.with_name("served.py")
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
LOOK_S = 0.02
"""How often to look whether a page has answered, s."""
DESK = {"viewport": {"width": 1400, "height": 900}}
_LOCAL = re.compile(r"^(https?|wss?)://127\.0\.0\.1[:/]|^(data|blob|about):")


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@contextmanager
def serving(
    bench: Path, log: Path, app: Path = SERVED, command: list[str] | None = None, port: int = 0, *, warm: bool = False
) -> Iterator[str]:
    """Run the dashboard on a bench and hand out its address; a warm one is forked with all libraries loaded."""
    port = port or free_port()
    environment = {**os.environ, "PAIRING_BENCH": str(bench)}
    words = ["run", str(app), "--server.port", str(port)]
    process: Process
    if warm and "forkserver" in multiprocessing.get_all_start_methods():
        process = warm_start.start(words, log.parent, environment, log)
    else:
        start = [*command, str(port)] if command else [sys.executable, "-m", "streamlit", *words]
        with log.open("wb") as out:
            process = Program(start, cwd=log.parent, env=environment, stdout=out, stderr=subprocess.STDOUT)
    try:
        _wait_for(f"http://127.0.0.1:{port}", process, log)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.join(10)
        if process.is_alive():
            process.kill()
            process.join(10)


class Program(subprocess.Popen[bytes]):
    """A program that was started, asked as a process of the standard library is."""

    def is_alive(self) -> bool:
        return self.poll() is None

    def join(self, timeout: float) -> None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.wait(timeout)


Process = Program | BaseProcess


def _wait_for(url: str, process: Process, log: Path) -> None:
    for _ in range(2000):
        try:
            urllib.request.urlopen(url + "/_stcore/health", timeout=1).read()
            return
        except OSError:
            if not process.is_alive():
                break
            time.sleep(0.03)
    raise RuntimeError("the dashboard did not start:\n" + log.read_text(encoding="utf-8"))


class Visit:
    """One browser window on the dashboard; keeps every off-machine request and page error it saw."""

    def __init__(self, browser: Any, url: str, *, phone: bool = False, dark: bool = False, **options: Any) -> None:
        scheme = "dark" if dark else "light"
        self.context = browser.new_context(
            color_scheme=scheme, reduced_motion="reduce", **{**(PHONE if phone else DESK), **options}
        )
        self.url, self.leaks, self.errors = url, [], []
        self.context.route("**/*", self._guard)
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda e: self.errors.append(str(e)))
        self.runs = self.before = 0
        self.page.on("domcontentloaded", self._begin)
        self.page.on("websocket", lambda ws: ws.on("framereceived", self._count))
        if os.environ.get("SLOW_CPU"):  # rehearse a slow tablet
            session = self.context.new_cdp_session(self.page)
            session.send("Emulation.setCPUThrottlingRate", {"rate": float(os.environ["SLOW_CPU"])})

    def _guard(self, route: Any) -> None:
        if _LOCAL.match(route.request.url):
            route.continue_()
        else:
            self.leaks.append(route.request.url)
            route.abort()

    def _begin(self) -> None:
        self.before = self.runs  # runs of the page that was left are no answer

    def _count(self, payload: bytes | str) -> None:
        # the page's own attribute is no fence: a short run goes by between two of its updates and is never seen
        from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

        message = ForwardMsg()
        message.ParseFromString(payload if isinstance(payload, bytes) else payload.encode("latin1"))
        ended = message.WhichOneof("type") == "script_finished"
        looked = ForwardMsg.FINISHED_FRAGMENT_RUN_SUCCESSFULLY  # whether others changed anything: no answer to a tap
        self.runs += ended and message.script_finished not in (ForwardMsg.FINISHED_EARLY_FOR_RERUN, looked)

    def open(self, path: str = "", timeout: float = 30) -> Any:
        self.act(lambda: self.page.goto(f"{self.url}/{path}"), timeout)
        return self.page

    def act(self, do: Callable[[], Any], timeout: float = 20) -> None:
        """Do one thing that must make the page run, and wait until it has."""
        self._begin()
        do()
        for _ in range(round(timeout / LOOK_S)):
            if self.runs != self.before:
                break
            self.page.wait_for_timeout(1000 * LOOK_S)
        else:
            pytest.fail("the page did not answer")
        self.settle(timeout)

    def settle(self, timeout: float = 20) -> None:
        """Wait until it is connected, nothing runs and nothing stale is shown; no fault may be on it."""
        ready = "[data-testid='stApp'][data-test-connection-state='CONNECTED'][data-test-script-state='notRunning']"
        self.page.wait_for_selector(ready, timeout=timeout * 1000)
        gone = "() => !document.querySelector('[data-stale=true], [data-testid=stSkeleton]')"
        self.page.wait_for_function(gone, timeout=timeout * 1000)
        fault = self.page.locator("[data-testid=stException]")
        assert fault.count() == 0, fault.first.inner_text()

    def close(self) -> None:
        self.context.close()


def tap(visit: Visit, what: Any) -> None:
    """Tap or click something that makes the page run, and wait until it has."""
    visit.act(what.tap if visit.context.pages[0].viewport_size["width"] < 500 else what.click)


def button(page: Any, name: str, **options: Any) -> Any:
    """Find a button by its words."""
    return page.get_by_role("button", name=name, **options)


def start(page: Any) -> Any:
    """Find the links that start a suggested cup."""
    return page.get_by_role("link", name="Start", exact=True)


def chip(page: Any, name: str) -> Any:
    """Find a chip of the brief."""
    return page.locator(".st-key-brief").get_by_role("button", name=name)


def pour(window: Visit, page: Any) -> None:
    """Begin a cup of the bench with one base and one flavouring, up to its first addition."""
    tap(window, page.get_by_role("link", name="A new cup"))
    tap(window, page.get_by_role("radio", name="Oat drink"))
    tap(window, page.get_by_role("radio", name="Plum drops").or_(button(page, "Plum drops")).first)
    tap(window, button(page, "Next"))
    tap(window, button(page, "I poured"))
