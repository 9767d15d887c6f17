"""What was assumed in reading a table, each with what it is about."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["Note", "in_short"]


class Note(str):
    """An assumption in words, which keeps its parts.

    Attributes
    ----------
    about : str
        The column, table or file that it is about; empty where the text names it.
    text : str
        What was assumed.
    example : bool
        One of many that are alike: of these people need to see one.
    """

    about: str
    text: str
    example: bool

    def __new__(cls, text: str, about: str = "", *, example: bool = False) -> Note:  # noqa: D102
        self = super().__new__(cls, f"{about}: {text}" if about else text)
        self.about, self.text, self.example = about, text, example
        return self


def in_short(notes: Iterable[Note]) -> list[str]:
    """Say once what holds for several columns, and give one example of what was read alike in one column.

    Examples
    --------
    >>> read = [Note(f"'{n} g' is read as {n}", "g", example=True) for n in (1, 2)]
    >>> in_short([Note("commas", "ph"), Note("commas", "cost"), *read])
    ['ph, cost: commas', "g: '1 g' is read as 1, and 1 more"]
    """
    alike: dict[tuple[str, str], list[Note]] = {}
    for note in notes:
        alike.setdefault(("", note.about) if note.example else (note.text, ""), []).append(note)
    short = []
    for first, *more in alike.values():
        names = ", ".join(dict.fromkeys(note.about for note in (first, *more) if note.about))
        also = f", and {len(more)} more" if first.example and more else ""
        short.append(str(Note(first.text + also, names)))
    return short
