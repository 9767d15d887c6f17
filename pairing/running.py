"""Which plugin runs, where what it prints goes, that it takes long, and what it leaves running.

The standard output is the answer's. What a plugin prints goes to the standard error, under its name: text by way of
``sys.stdout`` wherever plugins run, and within a command also whatever it, a library of its or a process that it starts
writes to descriptor 1, which leads into a file for as long as the command lasts.
"""

from __future__ import annotations

import atexit
import contextlib
import io
import os
import sys
import threading
import weakref
from collections.abc import Iterator
from contextvars import ContextVar
from tempfile import TemporaryFile
from typing import IO, Any

__all__ = ["answer", "apart", "left_running", "lent", "running", "telling_waits"]

WAIT_S = 5.0
"""How often to look whether a plugin is still at it, s (our choice)."""

_RUNNING: ContextVar[str] = ContextVar("pairing_running", default="")
_LOCK = threading.Lock()
_LEFT: weakref.WeakKeyDictionary[threading.Thread, str] = weakref.WeakKeyDictionary()
"""Threads that plugins started and that keep the process alive, with the plugin's name."""
_AT_IT: dict[object, str] = {}
"""Plugins that are in the middle of something, the innermost last."""


@contextlib.contextmanager
def running(plugin: str) -> Iterator[None]:
    """Run a plugin: what it prints is told under its name, and the threads that it leaves are remembered."""
    token, threads = _RUNNING.set(plugin), threading.active_count()
    words = _take_stdout()
    _AT_IT[this_time := object()] = plugin
    try:
        yield
    finally:
        del _AT_IT[this_time]
        _RUNNING.reset(token)
        if words is not None:
            words.end(plugin)
        if _apart is not None:
            _apart.tell(plugin)
        if threading.active_count() > threads:
            _remember_threads(plugin)


@contextlib.contextmanager
def telling_waits() -> Iterator[None]:
    """Say which plugin a command has been waiting for: one that never comes to an end says nothing itself."""
    over = threading.Event()
    threading.Thread(target=_tell_waits, args=(over,), daemon=True, name="pairing-waits").start()
    try:
        yield
    finally:
        over.set()


def _tell_waits(over: threading.Event) -> None:
    """Tell of what is found at it twice; a plugin's own command may take its time."""
    before: list[tuple[object, str]] = []
    told = before
    while not over.wait(WAIT_S):
        now = [] if _apart and _apart.lending else list(_AT_IT.items())[-1:]
        if now == before != told:
            told = now
            print(
                f"Still waiting for plugin {now[0][1]}: Ctrl+C ends the command; --plugins with the names of others, or"
                " '' for none, runs it without this one.",
                file=sys.stderr,
            )
        before = now


def left_running() -> dict[str, str]:
    """Return threads of plugins that keep the process from ending, by name of the thread, with the plugin's."""
    return {thread.name: plugin for thread, plugin in list(_LEFT.items()) if thread.is_alive()}


def _remember_threads(plugin: str) -> None:
    for thread in threading.enumerate():
        if not thread.daemon and thread is not threading.main_thread():
            _LEFT.setdefault(thread, plugin)


def _tell(plugin: str, text: str) -> None:
    for line in text.splitlines():
        print(f"plugin {plugin} printed: {line}", file=sys.stderr)


class _Words(io.TextIOBase):
    """Stands in for ``sys.stdout`` while plugins run; what others print goes through, in other threads too."""

    def __init__(self, through: Any) -> None:
        self.through = through
        self.users = 1
        self._begun: dict[str, str] = {}

    def __getattr__(self, name: str) -> Any:
        return getattr(sys.stderr if _RUNNING.get() else self.through, name)

    def write(self, text: str, /) -> int:
        """Write text, a plugin's line by line."""
        if not (plugin := _RUNNING.get()):
            return int(self.through.write(text))
        *lines, rest = f"{self._begun.pop(plugin, '')}{text}".split("\n")
        self._begun[plugin] = rest
        for line in lines:
            _tell(plugin, line)
        return len(text)

    def flush(self) -> None:
        """Flush what it stands for."""
        self.through.flush()

    def end(self, plugin: str) -> None:
        """Tell what a plugin left without the end of a line, and go when nobody needs it."""
        _tell(plugin, self._begun.pop(plugin, ""))
        with _LOCK:
            self.users -= 1
            if not self.users and sys.stdout is self:
                sys.stdout = self.through


def _take_stdout() -> _Words | None:
    """Put `_Words` in place of the standard output; None where what is printed is the answer itself."""
    if sys.stdout is None or (_apart is not None and _apart.lending):
        return None
    with _LOCK:
        words = sys.stdout
        if isinstance(words, _Words):
            words.users += 1
        else:
            sys.stdout = words = _Words(words)
    return words


class _Apart:
    """Descriptor 1 as a file that is told from, and the standard output beside it for the answer."""

    def __init__(self) -> None:
        self.stdout = self.answer = sys.stdout
        self.lending = False
        self._told = 0
        self._file = TemporaryFile("a+b", buffering=0)  # noqa: SIM115 – open as long as the command lasts
        self._one = os.dup(1)
        if _leads_to_one(self.stdout):
            self.stdout.flush()
            self.answer = io.TextIOWrapper(
                io.BufferedWriter(io.FileIO(os.dup(1), "w")),
                self.stdout.encoding,
                "backslashreplace" if self.stdout.errors == "strict" else self.stdout.errors,  # a file may not be UTF-8
                line_buffering=os.isatty(1),
            )
        aside = io.BufferedWriter(io.FileIO(1, "w", closefd=False))
        self._aside = io.TextIOWrapper(aside, "utf-8", "backslashreplace", write_through=True)
        self.divert()

    def divert(self) -> None:
        """Lead whatever is printed into the file."""
        os.dup2(self._file.fileno(), 1)
        sys.stdout = self._aside

    def undivert(self, stdout: IO[str]) -> None:
        """Lead it to the standard output again."""
        os.dup2(self._one, 1)
        sys.stdout = stdout

    def tell(self, plugin: str) -> None:
        """Tell what is new in the file."""
        size = os.fstat(self._file.fileno()).st_size
        if size > self._told:
            self._file.seek(self._told)
            _tell(plugin, self._file.read().decode("utf-8", "backslashreplace"))
            self._told = size

    def rest(self) -> None:
        """Tell what came from nobody knows whom, such as a thread that was left; the answer is out."""
        self.tell("unknown")
        with contextlib.suppress(OSError, ValueError):  # whoever read it may have gone
            self.answer.flush()

    def end(self) -> None:
        """Put everything back."""
        self.rest()
        self.undivert(self.stdout)
        if self.answer is not self.stdout:
            self.answer.close()
        self._file.close()
        os.close(self._one)


_apart: _Apart | None = None


def _leads_to_one(stream: Any) -> bool:
    try:
        return bool(stream.fileno() == 1)
    except (OSError, AttributeError, ValueError):
        return False


def answer() -> Any:
    """Return where the answer goes: the standard output, out of reach of plugins within `apart`."""
    return sys.stdout if _apart is None else _apart.answer


@contextlib.contextmanager
def apart(*, for_good: bool = False) -> Iterator[None]:
    """Keep the standard output for the answer while a command lasts, descriptor 1 included.

    Parameters
    ----------
    for_good : bool
        To the end of the process: what a thread or an exit handler of a plugin prints stays apart too.
    """
    global _apart  # noqa: PLW0603 – the standard output is the process's too
    if _apart is not None or not _is_open(1):
        yield
        return
    _apart = mine = _Apart()
    if for_good:
        atexit.register(mine.rest)
    try:
        yield
    finally:
        if not for_good:
            _apart = None
            mine.end()


def _is_open(descriptor: int) -> bool:
    try:
        os.fstat(descriptor)
    except OSError:
        return False
    return sys.stdout is not None


@contextlib.contextmanager
def lent(stdout: IO[str] | None = None) -> Iterator[None]:
    """Let what is printed be the answer: of a plugin's own command, or a process that takes over.

    Parameters
    ----------
    stdout : text stream, optional
        Where text goes instead; descriptor 1 stays apart then.
    """
    if _apart is None:
        with contextlib.redirect_stdout(stdout or sys.stdout):
            yield
        return
    _apart.lending = True
    if stdout is None:
        _apart.undivert(_apart.answer)
    else:
        sys.stdout = stdout
    try:
        yield
    finally:
        _apart.lending = False
        if stdout is None:
            _apart.answer.flush()
        _apart.divert()
