"""A process of its own for the rules of a bench's plugin files: what goes wrong there ends that process and not this.

A rule that never returns, takes all memory or ends its process is stopped, named and off; the answer goes on without
it. One process serves all files of a bench; it starts when a rule is first asked, and anew after it was ended.
Installed packages run in this process: whoever installs a package trusts it.
"""

from __future__ import annotations

import contextlib
import functools
import os
import queue
import subprocess
import sys
import threading
import weakref
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

from pairing.api import Setting
from pairing.errors import PluginError
from pairing.host.find import Found
from pairing.host.messages import Sent, read_message, write_message
from pairing.host.rules import HostedRule

__all__ = ["SETTINGS", "TABLE", "RemoteFaultError", "Worker"]

TABLE = "worker"
"""Table of the bench's settings file that is about this process, not about a plugin."""
SETTINGS = (
    Setting(name="on", kind="yes-no", about="Run rules of this bench's files in a process of their own", default=True),
    Setting(
        name="seconds", kind="number", unit="s", low=0.1, high=3600, default=10.0,
        about="Time after which a rule that was asked is stopped",
    ),
    Setting(
        name="memory_mb", kind="number", unit="MB", low=50, high=1e6, default=1000.0,
        about="Memory that rules may take beyond what the process starts with (on Linux alone)",
    ),
)  # fmt: skip
"""10 s and 1000 MB are our choice: a rule over 20,000 recipes takes some thousandths of that."""


STARTED_S = 60.0
"""Time within which the process has to be there (our choice): it takes a third of a second where nobody else works."""


class RemoteFaultError(PluginError):
    """What went wrong in a rule in the other process, with the place in the plugin."""

    def __init__(self, message: str, hint: str = "", where: str = "") -> None:
        super().__init__(message, hint)
        self.where = where


@dataclass
class _Process:
    """The other process, and what it has been sent."""

    popen: subprocess.Popen[bytes]
    answers: queue.SimpleQueue[Any]
    sent: Sent
    loaded: set[str]

    @classmethod
    def start(cls, memory_mb: float) -> _Process:
        command = [sys.executable, "-m", "pairing.host.served", str(memory_mb)]
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONPATH": _path()}
        popen = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment)
        answers: queue.SimpleQueue[Any] = queue.SimpleQueue()
        threading.Thread(target=_listen, args=(popen.stdout, answers), daemon=True, name="pairing-worker").start()
        return cls(popen, answers, Sent(), set())

    def wait_until_ready(self) -> None:
        """Wait until it has imported what it needs.

        Raises
        ------
        PluginError
            When it does not start.
        """
        with contextlib.suppress(queue.Empty):
            if self.answers.get(timeout=STARTED_S) is not None:
                return
        raise PluginError(
            "the process for rules of the bench's files does not start",
            f"let them run here: write on = false below [{TABLE}] in plugins.toml",
        )

    def tell(self, message: Any) -> None:
        """Send a message; one to a process that has ended is lost, and its answer will say so."""
        try:
            write_message(self.popen.stdin, message, self.sent)
        except OSError:
            return

    def end(self) -> None:
        """End it, whatever it does."""
        self.popen.kill()
        self.popen.wait()
        for stream in (self.popen.stdin, self.popen.stdout):
            _close(stream)


def _close(stream: IO[bytes] | None) -> None:
    try:
        if stream is not None:
            stream.close()
    except OSError:  # what was not sent to a process that is gone
        return


def _listen(stream: IO[bytes], answers: queue.SimpleQueue[Any]) -> None:
    while (message := read_message(stream)) is not None:
        answers.put(message)
    answers.put(None)


def _path() -> str:
    """Where this process finds its modules: the other one is to find the same."""
    return os.pathsep.join(path or os.getcwd() for path in sys.path)


class Worker:
    """The other process, for one bench.

    Parameters
    ----------
    settings : mapping
        The bench's for it, see `SETTINGS`; what is not there has its default.
    """

    def __init__(self, settings: Mapping[str, Any]) -> None:
        defaults = {setting.name: setting.default for setting in SETTINGS}
        self._settings = defaults | dict(settings)
        self._plugins: dict[str, tuple[Any, ...]] = {}
        self._ended: dict[str, str] = {}
        self._process: _Process | None = None
        self._finalizer: weakref.finalize[..., Any] | None = None
        self._lock = threading.Lock()

    def take(self, found: Found, settings: Mapping[str, Any], folder: Path | None, rules: list[HostedRule]) -> None:
        """Put rules of a plugin that was loaded here into the other process, in place."""
        self._plugins[found.name] = (found.name, found.origin, found.source, dict(settings), folder)
        for place, rule in enumerate(rules):
            if rule.id.partition(":")[0] == found.name:
                feature, because = (self._there(found.name, rule, name) for name in ("feature", "because"))
                rules[place] = replace(rule, feature=feature, because=because)

    def _there(self, plugin: str, rule: HostedRule, what: str) -> Callable[..., Any]:
        call = getattr(rule, what)

        @functools.wraps(call)
        def asked(*values: Any) -> Any:
            return self._ask(plugin, rule.id, what, values)

        asked.ready = functools.partial(self._ready, plugin)  # type: ignore[attr-defined]
        return asked

    def _ready(self, plugin: str) -> None:
        """Have the plugin loaded in the other process: that is no time of a rule's."""
        with self._lock:
            self._loaded(plugin)

    def _loaded(self, plugin: str) -> _Process:
        if why := self._ended.get(plugin):
            raise PluginError(f"not asked again: {why}", "mend it, and load the plugins again")
        process = self._running()
        if plugin not in process.loaded:
            process.tell(("load", *self._plugins[plugin]))
            self._answer(process, plugin)
            process.loaded.add(plugin)
        return process

    def _ask(self, plugin: str, rule_id: str, what: str, values: tuple[Any, ...]) -> Any:
        with self._lock:
            process = self._loaded(plugin)
            process.tell(("ask", rule_id, what, values))
            printed, kind, *said = self._answer(process, plugin)
        sys.stderr.write(printed)
        if kind == "fault":
            message, hint, where = said
            raise RemoteFaultError(message, hint, where)
        return said[0]

    def _running(self) -> _Process:
        if self._process is None:
            self._process = _Process.start(self._settings["memory_mb"])
            self._finalizer = weakref.finalize(self, _Process.end, self._process)
            self._process.wait_until_ready()
        return self._process

    def _answer(self, process: _Process, plugin: str) -> tuple[Any, ...]:
        seconds = self._settings["seconds"]
        try:
            answer: tuple[Any, ...] | None = process.answers.get(timeout=seconds)
        except queue.Empty:
            self._stop(plugin, f"it took more than {seconds:g} s and was stopped")
            raise PluginError(
                self._ended[plugin], f"make it faster, or raise seconds in [{TABLE}] of plugins.toml"
            ) from None
        except BaseException:  # Ctrl+C: an answer that comes later would be taken for the next one's
            self._stop(None, "")
            raise
        if answer is None:
            code = process.popen.wait()
            how = f"by signal {-code}" if code < 0 else f"with exit code {code}"
            self._stop(plugin, f"it ended its process {how}")
            raise PluginError(self._ended[plugin], "remove what ends the process")
        if answer[1] == "memory":
            self._stop(plugin, f"it took more than {self._settings['memory_mb']:g} MB of memory and was stopped")
            remedy = f"work on fewer things at once, or raise memory_mb in [{TABLE}] of plugins.toml"
            raise RemoteFaultError(self._ended[plugin], remedy, answer[2])
        return answer

    def _stop(self, plugin: str | None, why: str) -> None:
        """End the process; the plugin that it is about is off from now on, the others have a new one."""
        if plugin is not None:
            self._ended[plugin] = why
        if self._finalizer is not None:
            self._finalizer()
        self._process = None
