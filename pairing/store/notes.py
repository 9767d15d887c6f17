"""What was assumed in reading a table, said shortly."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["in_short"]


def in_short(notes: Sequence[str]) -> list[str]:
    """Say once what holds for several columns, and give one example of what was read alike in one column.

    Examples
    --------
    >>> in_short(["ph: commas", "cost: commas", "g: '1 g' is read as 1", "g: '2 g' is read as 2"])
    ['ph, cost: commas', "g: '1 g' is read as 1, and 1 more"]
    """
    examples: dict[str, list[str]] = {}
    about: dict[str, list[str]] = {}
    for note in notes:
        column, _, text = note.partition(": ")
        if " is read as " in text:
            examples.setdefault(column, []).append(text)
        else:
            about.setdefault(text, []).append(column)
    short = [f"{', '.join(columns)}: {text}" if text else columns[0] for text, columns in about.items()]
    for column, texts in examples.items():
        short.append(f"{column}: {texts[0]}" + (f", and {len(texts) - 1} more" if len(texts) > 1 else ""))
    return short
