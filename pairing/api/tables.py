"""What plugins hear of the log, and what they bring into tables: formats, compositions, attributes of readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

__all__ = ["Attribute", "Composition", "LogEvent", "Reader", "Writer"]


@dataclass(frozen=True, kw_only=True, eq=False)
class LogEvent:
    """A change of trials that was just stored, as a listener hears of it. Since 1.1.

    Attributes
    ----------
    kind : {"log", "load", "correct", "undo"}
    revision : int
        The bench's last revision then.
    trial_ids : tuple of str
        The trials that it is about.
    readings : DataFrame
        Their rows of the ``readings`` table as they stand now; a trial that was taken back has none.
    """

    kind: str
    revision: int
    trial_ids: tuple[str, ...]
    readings: pd.DataFrame


@dataclass(frozen=True, kw_only=True)
class Composition:
    """What a table says of one drink or foodstuff, found by its name. Since 1.1.

    Attributes
    ----------
    name : str
        As the table has it.
    source : str
        The table, its edition and the entry: each value is shown with it.
    values : mapping of column to number
        Number columns of the ``bases`` table in their own units, such as ``fat_g_per_100g``. What the table does not
        say is left out: unknown is never zero.
    ranges : mapping of column to (low, high)
        What the table gives beside a value, where it gives a range.

    Examples
    --------
    >>> Composition(name="Oats, rolled", source="an invented table", values={"fat_g_per_100g": 7.1}).values
    {'fat_g_per_100g': 7.1}
    """

    name: str
    source: str
    values: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Reader:
    """How to read a kind of file. Since 1.1.

    Attributes
    ----------
    id : str
        Lower case with hyphens; a writer of the same id writes what it reads.
    suffixes : tuple of str
        Ends of file names, such as ``(".cups",)``.
    summary : str
        One sentence that people read.
    read : callable
        ``read(path) -> dict of table name to DataFrame``, columns as of the bench's tables.
    """

    id: str
    suffixes: tuple[str, ...]
    summary: str
    read: Callable[[Path], Mapping[str, pd.DataFrame]]


@dataclass(frozen=True, kw_only=True)
class Writer:
    """How to write a kind of file: ``pairing export FILE`` asks the one that fits its name. Since 1.1.

    Attributes
    ----------
    id, suffixes, summary
        As of a `Reader`.
    tables : tuple of str
        The tables that it can hold; empty is all of them.
    write : callable
        ``write(tables, path)`` with a mapping of table name to DataFrame. What the reader of the same id then reads are
        the same tables again.
    """

    id: str
    suffixes: tuple[str, ...]
    summary: str
    write: Callable[[Mapping[str, pd.DataFrame], Path], None]
    tables: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Attribute:
    """What a cup can be judged by beside strength and liking, on the strength scale 0 to 5. Since 1.1.

    Attributes
    ----------
    name : str
        The word in the column ``attributes`` of the readings, such as ``sweetness``.
    question : str
        How it is asked, such as ``How sweet is the cup?``.
    source : str
        Where the word and its meaning come from.
    low, high : str
        What 1 and 5 stand for, such as ``not sweet enough`` and ``much too sweet``.
    """

    name: str
    question: str
    source: str
    low: str = "much too weak"
    high: str = "much too strong"
