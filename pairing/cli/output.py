"""What a command prints: tables and words for people, or one JSON document for programs."""

from __future__ import annotations

import contextlib
import dataclasses
import json as json_module
import logging
import math
import os
import sys
import textwrap
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.errors import PairingError
from pairing.model.reason import Lack, Reason
from pairing.running import answer

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["ITEM", "Output", "column_widths", "plain"]

WIDTH_WITHOUT_TERMINAL = 120
GAP = 3
"""Characters between the columns of a table."""
SHORT = 24
"""Columns whose cells are no longer than this get the room that they want before longer ones."""
WHOLE = 32
"""Words up to this long are never broken in a table."""
SECONDS_BEFORE_PROGRESS = 1.0
ITEM = "item"
"""In place of a column's format: its cells are ids of bases and flavourings, and people read their names."""


class Output:
    """Where a command's answer goes.

    In JSON mode ``say`` is silent and everything that was given a name is printed as one JSON object at the end;
    otherwise names are ignored, and tables and words are printed as they come. Warnings and progress go to the standard
    error in both.

    Parameters
    ----------
    json : bool
        Print one JSON document instead of tables.

    Attributes
    ----------
    names : mapping of str to str
        What bases and flavourings are called, by id: for columns of `ITEM`.
    """

    def __init__(self, *, json: bool = False) -> None:
        self.json = json
        self.names: Mapping[str, str] = {}
        self._stream = answer()
        self._document: dict[str, Any] = {}
        self._console: Console | None = None
        self._warned: set[str] = set()

    def table(
        self,
        name: str,
        records: Iterable[Mapping[str, Any]] | Any,
        columns: Sequence[tuple[Any, ...]],
        *,
        shown: Sequence[Mapping[str, Any]] | None = None,
        title: str = "",
        empty: str = "nothing to show",
    ) -> None:
        """Show records as a table, and keep them under ``name`` for the JSON document.

        Parameters
        ----------
        name : str
            Key in the JSON document; it holds whole records with their unrounded values.
        records : iterable of mappings, or DataFrame
        columns : sequence of (field, header) or (field, header, format)
            What people see; a header carries the unit. Numbers are aligned right. The format `ITEM` calls ids by name.
        shown : sequence of mappings, optional
            What people see instead of the records; an empty row draws nothing but a gap.
        title, empty : str
            Words above the table, and instead of it when there are no records.
        """
        self._document[name] = plain(records)
        if self.json:
            return
        rows = self._document[name] if shown is None else shown
        if not rows:
            self.say(f"{title}: {empty}" if title else empty)
            return
        if title:
            self._print(title, markup=False, style="italic")
        texts = [[self._cell(row.get(field, ""), *form) for field, _, *form in columns] for row in rows]
        widths = column_widths([[header for _, header, *_ in columns], *texts], self._screen().width)
        if widths is None:
            self._fields(texts, columns)
            return
        numeric = [all(isinstance(row.get(field), int | float | None) for row in rows) for field, *_ in columns]
        self._grid(texts, columns, widths, numeric)

    def _cell(self, value: Any, form: Any = None) -> str:
        if form != ITEM:
            return _text(value, form)
        names = [self.names.get(item, str(item)) for item in (value if isinstance(value, list) else [value]) if item]
        return ", ".join(names) or _text(value or None)

    def _grid(
        self,
        texts: Sequence[Sequence[str]],
        columns: Sequence[tuple[Any, ...]],
        widths: Sequence[int],
        numeric: Sequence[bool],
    ) -> None:
        from rich import box
        from rich.markup import escape
        from rich.table import Table

        table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
        for (_, header, *_), width, right in zip(columns, widths, numeric, strict=True):
            table.add_column(header, justify="right" if right else "left", overflow="fold", width=width)
        for row in texts:
            table.add_row(*map(escape, row))
        self._print(table)

    def _fields(self, texts: Sequence[Sequence[str]], columns: Sequence[tuple[Any, ...]]) -> None:
        """Write rows one below the other; a row without its first field belongs to the one before."""
        for number, row in enumerate(texts):
            if number and row[0]:
                self.say()
            for (_, header, *_), text in zip(columns, row, strict=True):
                if text:
                    self.say(f"  {header}: {text}")
        self.say()

    def say(self, text: str = "") -> None:
        """Print a line for people; one that is set in and too long goes on further in."""
        if self.json:
            return
        width = self._screen().width
        for line in text.split("\n"):
            before = line[: len(line) - len(line.lstrip(" "))]
            long = before and len(line) > width
            parts = (
                textwrap.wrap(line, width, subsequent_indent=before + "  ", break_on_hyphens=False) if long else [line]
            )
            for part in parts:
                self._print(part, markup=False)

    def command(self, before: str, line: str) -> None:
        """Print a command that is meant to be copied: on a line of its own, which is never broken."""
        self.say(before)
        if not self.json:
            self._print(f"  {line}", markup=False, soft_wrap=True)

    def value(self, name: str, value: Any) -> None:
        """Keep a value for the JSON document; people do not see it."""
        self._document[name] = plain(value)

    def warn(self, text: str) -> None:
        """Print a warning to the standard error, the same one only once."""
        if text not in self._warned:
            self._warned.add(text)
            print(text, file=sys.stderr)

    @contextlib.contextmanager
    def hearing(self) -> Iterator[None]:
        """Print what the package logs as warnings of this command, each once."""
        log, handler = logging.getLogger("pairing"), _Warnings(self.warn)
        log.addHandler(handler)
        try:
            yield
        finally:
            log.removeHandler(handler)

    def refuse(self, error: PairingError) -> None:
        """Print an error and its remedy."""
        if self.json:
            self._document |= {"error": error.message, "hint": error.hint}
            self.close()
        self.warn(error.message + (f"\nWhat to do: {error.hint}" if error.hint else ""))

    @contextlib.contextmanager
    def progress(self, text: str, total: float | None = None) -> Iterator[Callable[[float], None]]:
        """Show a progress bar once the work has taken over a second; yields what to call with the share done."""
        if not sys.stderr.isatty():
            yield lambda done: None
            return
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        task = bar.add_task(text, total=total)
        timer = threading.Timer(SECONDS_BEFORE_PROGRESS, bar.start)
        timer.daemon = True
        timer.start()
        try:
            yield lambda done: bar.update(task, completed=done)
        finally:
            timer.cancel()
            bar.stop()

    def close(self) -> None:
        """Print the JSON document, when there is one to print."""
        if self.json:
            encoding = getattr(self._stream, "encoding", None) or "utf-8"
            escaped = not encoding.lower().startswith("utf")  # a file on Windows: JSON's own way to write any letter
            text = json_module.dumps(self._document, ensure_ascii=escaped, indent=2, allow_nan=False)
            print(text, file=self._stream)
            self.json = False
        self._stream.flush()

    def _screen(self) -> Console:
        if self._console is None:
            from rich.console import Console

            class Screen(Console):
                def on_broken_pipe(self) -> None:
                    """Let the command end quietly; a reader that has gone is no refusal."""
                    raise BrokenPipeError

            width = None if self._stream.isatty() or "COLUMNS" in os.environ else WIDTH_WITHOUT_TERMINAL
            self._console = Screen(file=self._stream, width=width, highlight=False)
        return self._console

    def _print(self, what: Any, **options: Any) -> None:
        self._screen().print(what, **options)


class _Warnings(logging.Handler):
    """Hands on the text of what is logged."""

    def __init__(self, hand: Callable[[str], None]) -> None:
        super().__init__(logging.WARNING)
        self._hand = hand

    def emit(self, record: logging.LogRecord) -> None:
        self._hand(record.getMessage())


def column_widths(texts: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """Share the width of a screen among columns such that no word is broken; None when they do not fit.

    Parameters
    ----------
    texts : sequence of rows
        All cells, the headers first.
    width : int
        Characters of a line.

    Examples
    --------
    >>> column_widths([["#", "what"], ["1", "ginger and cocoa"]], 80)
    [1, 16]
    >>> column_widths([["#", "what"], ["1", "ginger and cocoa"]], 15), column_widths([["ginger", "cocoa"]], 12)
    ([1, 9], None)
    """
    from rich.cells import cell_len

    columns = list(zip(*texts, strict=True))
    given = [max(min(cell_len(word), WHOLE) for text in column for word in text.split() or [""]) for column in columns]
    left = width - sum(given) - GAP * (len(columns) - 1) - 2
    if left < 0:
        return None
    for first, most in ((1, SHORT), (1, None), (0, None)):  # short cells stay whole, headers are wrapped first
        wanted = [max((cell_len(line) for text in c[first:] for line in text.split("\n")), default=0) for c in columns]
        while left and (short := [i for i, n in enumerate(given) if n < wanted[i] <= (most or wanted[i])]):
            given[max(short, key=lambda i: wanted[i] / given[i])] += 1
            left -= 1
    return given


def plain(value: Any) -> Any:
    """Turn objects, arrays and tables into what JSON knows; what is not a number, or not known, becomes null.

    Examples
    --------
    >>> plain({"a": float("nan"), "b": frozenset({"y", "x"})})
    {'a': None, 'b': ['x', 'y']}
    """
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if hasattr(value, "isoformat"):
        return None if value != value else value.isoformat()  # noqa: PLR0124 – NaT alone differs from itself
    if type(value).__name__ == "NAType":
        return None
    if hasattr(value, "to_dict") and hasattr(value, "columns"):
        return [plain(row) for row in value.to_dict("records")]
    return _plain_parts(value)


def _plain_parts(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        words = {"sentence": str(value)} if isinstance(value, Reason | Lack) else {}
        return words | {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, frozenset | set):
        return sorted(map(plain, value), key=str)
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return [plain(item) for item in value] if isinstance(value, Iterable) else str(value)


def _text(value: Any, form: Callable[[Any], str] | None = None) -> str:
    if value is None or value == "":
        return "–" if value is None else ""
    if form is not None:
        return form(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return str(value)
