"""One serving of a blind check: coded cups side by side, and the answer to it."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.errors import LogError

__all__ = ["QUESTIONS", "Answer", "CodedServing", "Question"]


@dataclass(frozen=True)
class Question:
    """What the taster is asked, by method.

    Attributes
    ----------
    ask : str
        The sentence on the taster's sheet.
    kept_as : str
        The ``question`` of the ``comparisons`` rows.
    """

    ask: str
    kept_as: str


QUESTIONS = {
    ("paired", "stronger"): Question("Which of the two tastes stronger?", "stronger"),
    ("paired", "prefer"): Question("Which of the two do you prefer?", "prefer"),
    ("paired", "closer"): Question("Which of the two is closer to the target?", "closer"),
    ("3-afc", "stronger"): Question("Which of the three tastes strongest?", "strongest of three"),
    ("3-afc", "closer"): Question("Which of the three is closest to the target?", "closest of three"),
    ("triangle", "odd"): Question("Two of the three are alike. Which is the odd one out?", "odd one out"),
    ("duo-trio", "odd"): Question("Taste the reference first. Which of the two is like it?", "like the reference"),
}
"""Questions by method and kind. Only *stronger*, *prefer* and *closer* of two cups are evidence for the learning: a
pick out of three, or of an odd one, says less about which side is above the other."""


@dataclass(frozen=True, kw_only=True)
class CodedServing:
    """Cups set out together, from left to right.

    Attributes
    ----------
    number, session : int
        From 1.
    contents : str
        One letter a cup, ``a`` or ``b``.
    codes : tuple of str
        One code a cup.
    reference : str
        Letter of the open reference cup, empty without one.
    """

    number: int
    session: int
    contents: str
    codes: tuple[str, ...]
    reference: str = ""

    def content(self, code: str) -> str:
        """Return the letter of the cup with this code."""
        try:
            return self.contents[self.codes.index(code)]
        except ValueError:
            raise LogError(
                f"no cup of serving {self.number} has code {code}", f"its codes are {' and '.join(self.codes)}"
            ) from None

    @property
    def right(self) -> str:
        """Letter that counts as right: the reference's, the odd one's, else ``a``."""
        if self.reference:
            return self.reference
        if len(self.contents) == 3 and self.contents.count("a") == 2:  # two cups of a: b is the odd one out
            return "b"
        return "a"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The answer to one serving.

    Attributes
    ----------
    serving : int
    code : str or None
        Of the cup that was picked; None for a tie or a serving left out.
    skipped : bool
        Left out: spilled, interrupted; it counts for nothing.
    at : str or None
        Time, ISO 8601.
    note : str
    """

    serving: int
    code: str | None = None
    skipped: bool = False
    at: str | None = None
    note: str = ""

    @property
    def tie(self) -> bool:
        """No cup was picked although the serving was tasted."""
        return self.code is None and not self.skipped
