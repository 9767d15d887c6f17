"""The process in which rules of a bench's plugin files run, see `pairing.host.worker`."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import sys
from functools import partial
from pathlib import Path
from typing import IO, Any

from pairing.host.fault import Fault
from pairing.host.find import file_found
from pairing.host.guard import attempt
from pairing.host.loading import load_found
from pairing.host.messages import Received, Sent, read_message, write_message
from pairing.host.rules import HostedRule
from pairing.running import apart

try:
    import resource
except ImportError:  # not on this system
    resource = None  # type: ignore[assignment]

__all__ = ["serve"]


def serve(questions: IO[bytes], answers: IO[bytes]) -> None:
    """Answer until nobody asks any more; what a rule prints goes along with its answer."""
    received, rules = Received(), dict[str, HostedRule]()
    write_message(answers, ("ready",), Sent())
    while (message := read_message(questions, received)) is not None:
        kind, *said = message
        with contextlib.redirect_stderr(io.StringIO()) as printed:
            answer = _load(rules, *said) if kind == "load" else _answer(rules, *said)
        write_message(answers, (printed.getvalue(), *answer), Sent())


def _load(
    rules: dict[str, HostedRule], name: str, path: str, source: bytes, settings: dict[str, Any], folder: Path | None
) -> tuple[Any, ...]:
    host = load_found(file_found(name, Path(path), source, trusted=True), settings, folder)
    rules.update({rule.id: rule for rule in host.asked})
    return "found", None


def _answer(rules: dict[str, HostedRule], rule_id: str, what: str, values: tuple[Any, ...]) -> tuple[Any, ...]:
    if rule_id not in rules:
        return "fault", "it does not load in its own process as it did here", "let it load the same each time", ""
    call = getattr(rules[rule_id], what)
    found, fault = attempt(partial(call, *values), plugin=rule_id.partition(":")[0], stage="scoring", defined=call)
    if fault is not None:
        return _told(fault)
    return "found", found


def _told(fault: Fault) -> tuple[Any, ...]:
    if fault.raised == "MemoryError":
        return "memory", fault.where
    return "fault", fault.error, fault.remedy, fault.where


def _hold_memory(megabytes: float) -> None:
    """Let this process take no more than so much beyond what it has now, where the system can do that."""
    if resource is None:
        return
    with contextlib.suppress(ValueError, OSError):
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
        most = pages * os.sysconf("SC_PAGE_SIZE") + int(megabytes * 1e6)
        resource.setrlimit(resource.RLIMIT_AS, (most, most))


def main() -> None:
    """Take over the standard streams."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the process that asks
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _hold_memory(float(sys.argv[1]))
    with apart():  # what is printed is told under the plugin's name, descriptor 1 included
        serve(sys.stdin.buffer, answers)
    sys.stderr.flush()
    os._exit(0)  # whatever threads rules have left


if __name__ == "__main__":
    main()
