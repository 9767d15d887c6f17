"""A blind check: planned, answered serving by serving, stopped and resumed, judged only when it is finished."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from pairing.blind.codes import read_code
from pairing.blind.sequential import GO_ON, StoppingRule, stopping_rule
from pairing.blind.serving import QUESTIONS, Answer, CodedServing, Question
from pairing.discrimination.thurstone import CHANCE, percent_correct
from pairing.errors import LogError
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text

__all__ = ["BlindCheck"]

TIE_WORDS = ("tie", "=", "same")


@dataclass(frozen=True, kw_only=True)
class BlindCheck:
    """A check of two recipes that hides which is which until it is finished. Made by :func:`pairing.blind.plan.plan`.

    It is immutable: every answer returns a new check. Nothing that it prints before the end tells how many answers were
    right.

    Attributes
    ----------
    check_id : str
    question : {"stronger", "prefer", "closer", "odd"}
    method : {"paired", "3-afc", "triangle", "duo-trio"}
    a, b : Recipe
        The two sides; where a side is expected to be picked, it is ``a``.
    taster : str
    servings : tuple of CodedServing
        As many as it can take; a sequential check usually ends much earlier.
    answers : tuple of Answer
    alpha, power : float
        Risk of calling a difference that is not there; chance of finding one of ``d_prime``.
    d_prime : float
        The difference that is worth having.
    two_sided : bool
        No side is expected to be picked.
    sequential : bool
        Stop as soon as the answer is clear.
    ties : bool
        'No difference' is an allowed answer.
    alone : bool
        Without a helper: stickers under the cups.
    target : str
        What *closer* is measured against, in the words of the sheets.
    """

    check_id: str
    question: str
    method: str
    a: Recipe
    b: Recipe
    taster: str
    servings: tuple[CodedServing, ...]
    answers: tuple[Answer, ...] = ()
    alpha: float = 0.05
    power: float = 0.9
    d_prime: float = 1.0
    two_sided: bool = False
    sequential: bool = True
    ties: bool = False
    alone: bool = False
    target: str = ""

    @property
    def asked(self) -> Question:
        """The question as it is put and kept."""
        return QUESTIONS[self.method, self.question]

    @property
    def rule(self) -> StoppingRule | None:
        """Stopping rule of a sequential check."""
        if not self.sequential:
            return None
        p1 = percent_correct(self.d_prime, self.method)
        return stopping_rule(CHANCE[self.method], p1, self.alpha, self.power, two_sided=self.two_sided)

    @property
    def counts(self) -> tuple[int, int]:
        """Right answers and answers that count (ties and servings left out do not)."""
        picked = [answer for answer in self.answers if answer.code is not None]
        right = sum(self.serving(a.serving).content(str(a.code)) == self.serving(a.serving).right for a in picked)
        return right, len(picked)

    @property
    def finished(self) -> bool:
        """Whether the answer is clear, or every planned serving is dealt with."""
        right, n = self.counts
        if self.rule is not None and n and self.rule.state(right, n) != GO_ON:
            return True
        return len(self.answers) == len(self.servings)

    @property
    def next_serving(self) -> CodedServing | None:
        """The serving that is to be tasted next, None when it is finished."""
        return None if self.finished else self.servings[len(self.answers)]

    @property
    def progress(self) -> str:
        """How far it is, in words that give nothing away."""
        done = f"{len(self.answers)} of {'at most ' if self.sequential else ''}{len(self.servings)} servings done"
        if (serving := self.next_serving) is None:
            return f"{done}: finished"
        return f"{done}; next is serving {serving.number} of session {serving.session}: {' '.join(serving.codes)}"

    def serving(self, number: int) -> CodedServing:
        """Return one serving by its number."""
        if not 1 <= number <= len(self.servings):
            raise LogError(f"there is no serving {number}, they go from 1 to {len(self.servings)}", "check the number")
        return self.servings[number - 1]

    def answer(self, code: object, serving: int | None = None, *, at: str | None = None, note: str = "") -> BlindCheck:
        """Return the check with the next serving answered.

        Parameters
        ----------
        code : str or int
            Of the cup that was picked; ``tie`` where ties are allowed.
        serving : int, optional
            Number of the serving, to be checked against the next one due.
        at : str, optional
            Time, ISO 8601.
        note : str

        Raises
        ------
        LogError
            When it is finished, the code is not of this serving, was entered before, or a serving would be skipped.
        """
        due = self._due(serving)
        if str(code).strip().casefold() in TIE_WORDS:
            if not self.ties:
                raise LogError("a tie is no answer in this check", "pick one cup, by guessing if need be")
            return self._with(Answer(serving=due.number, at=at, note=note))
        picked = read_code(code)
        if picked not in due.codes:
            raise self._wrong_code(picked, due)
        return self._with(Answer(serving=due.number, code=picked, at=at, note=note))

    def skip(self, serving: int | None = None, *, note: str, at: str | None = None) -> BlindCheck:
        """Return the check with the next serving left out for a stated reason (spilled, interrupted, wrong cup)."""
        if not note.strip():
            raise LogError("a serving is left out without a reason", "say what happened: spilled, interrupted, …")
        due = self._due(serving)
        return self._with(Answer(serving=due.number, skipped=True, at=at, note=note.strip()))

    def take_back(self) -> BlindCheck:
        """Return the check without its last answer, to correct a slip; not once it is finished."""
        if not self.answers:
            raise LogError("nothing has been answered yet", "there is nothing to take back")
        if self.finished:
            raise LogError("the check is finished, its answers stand", "plan a new check")
        return replace(self, answers=self.answers[:-1])

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain values, to be kept and read back by :meth:`from_dict`."""
        out: dict[str, Any] = {f.name: getattr(self, f.name) for f in fields(self)}
        out["a"], out["b"] = recipe_text(self.a), recipe_text(self.b)
        out["servings"] = [{**vars(serving), "codes": list(serving.codes)} for serving in self.servings]
        out["answers"] = [dict(vars(answer)) for answer in self.answers]
        return out

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> BlindCheck:
        """Return the check that :meth:`to_dict` wrote."""
        try:
            values = {f.name: kept[f.name] for f in fields(cls) if f.name in kept}
            values["a"], values["b"] = parse_recipe_text(kept["a"]), parse_recipe_text(kept["b"])
            values["servings"] = tuple(CodedServing(**{**s, "codes": tuple(s["codes"])}) for s in kept["servings"])
            values["answers"] = tuple(Answer(**answer) for answer in kept["answers"])
            return cls(**values)
        except (KeyError, TypeError) as error:
            raise LogError(f"what was kept is no blind check ({error})", "plan a new check") from error

    def _due(self, number: int | None) -> CodedServing:
        due = self.next_serving
        if due is None:
            raise LogError(f"the check is finished after {len(self.answers)} servings", "look at its result")
        if number is None or number == due.number:
            return due
        if self.serving(number).number < due.number:
            raise LogError(f"serving {number} is answered already", f"serving {due.number} is next")
        raise LogError(
            f"serving {due.number} has no answer yet, serving {number} cannot come before it",
            f"answer serving {due.number}, or leave it out with a reason",
        )

    def _wrong_code(self, code: str, due: CodedServing) -> LogError:
        hint = f"serving {due.number} has the codes {' and '.join(due.codes)}"
        elsewhere = next((s for s in self.servings if s.session == due.session and code in s.codes), None)
        if elsewhere is None:
            return LogError(f"no cup of session {due.session} has code {code}", hint)
        if elsewhere.number < due.number:
            return LogError(f"code {code} belongs to serving {elsewhere.number}, which is answered already", hint)
        return LogError(
            f"code {code} belongs to serving {elsewhere.number}, serving {due.number} has no answer yet",
            f"{hint}; answer it, or leave it out with a reason",
        )

    def _with(self, answer: Answer) -> BlindCheck:
        return replace(self, answers=(*self.answers, answer))
