"""Messages between this process and the one in which rules run: pickled, with their length in front.

The facts of a shelf are many and stay the same over many questions, so they are sent once and then named by a number.
"""

from __future__ import annotations

import io
import pickle
import struct
from collections import OrderedDict
from typing import IO, Any

import numpy as np

from pairing.model.facts import Facts
from pairing.model.tables import AdditionTable, RecipeTable

__all__ = ["Received", "Sent", "read_message", "write_message"]

_LENGTH = struct.Struct("<Q")
_SHELVES = 8
"""Tables of facts that both sides remember (our choice)."""


class Sent:
    """Facts that were sent, the last few, by number."""

    def __init__(self) -> None:
        self._known: OrderedDict[int, Facts] = OrderedDict()

    def number(self, facts: Facts) -> tuple[int, Facts | None]:
        """Return the number of some facts, and themselves where the other side does not have them."""
        number = id(facts)  # what is remembered stays alive, so that no other has its number
        known = number in self._known
        self._known[number] = facts
        self._known.move_to_end(number)
        if len(self._known) > _SHELVES:
            self._known.popitem(last=False)
        return number, None if known else facts


class Received:
    """Facts that came, by number; the other side says which it has forgotten by sending them again."""

    def __init__(self) -> None:
        self._known: OrderedDict[int, Facts] = OrderedDict()

    def facts(self, number: int, sent: bytes | None) -> Facts:
        """Return the facts of a number."""
        if sent is not None:
            self._known[number] = pickle.loads(sent)
        self._known.move_to_end(number)
        if len(self._known) > _SHELVES:
            self._known.popitem(last=False)
        return self._known[number]


class _Pickler(pickle.Pickler):
    def __init__(self, file: IO[bytes], sent: Sent) -> None:
        super().__init__(file, protocol=5)
        self._sent = sent

    def persistent_id(self, thing: Any) -> Any:
        if not isinstance(thing, Facts):
            return None
        number, facts = self._sent.number(thing)
        return number, None if facts is None else pickle.dumps(facts, protocol=5)


class _Unpickler(pickle.Unpickler):
    def __init__(self, file: IO[bytes], received: Received) -> None:
        super().__init__(file)
        self._received = received

    def persistent_load(self, pid: Any) -> Any:
        return self._received.facts(*pid)


def write_message(stream: IO[bytes] | None, message: Any, sent: Sent) -> None:
    """Write one message."""
    assert stream is not None
    buffer = io.BytesIO()
    _Pickler(buffer, sent).dump(message)
    stream.write(_LENGTH.pack(buffer.tell()))
    stream.write(buffer.getbuffer())
    stream.flush()


def read_message(stream: IO[bytes], received: Received | None = None) -> Any:
    """Read one message; None at the end. Tables in it are read-only."""
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    body = stream.read(_LENGTH.unpack(head)[0])
    message = _Unpickler(io.BytesIO(body), received or Received()).load()
    for part in message[-1] if isinstance(message[-1], tuple) else ():
        if isinstance(part, RecipeTable | AdditionTable):
            for array in vars(part).values():
                if isinstance(array, np.ndarray):
                    array.flags.writeable = False
    return message
