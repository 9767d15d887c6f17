"""What a finished blind check says, and how it is kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import pandas as pd

from pairing.blind.check import BlindCheck
from pairing.blind.judged import distance
from pairing.blind.pvalue import PValue
from pairing.blind.sequential import DIFFERENT, GO_ON
from pairing.blind.serving import QUESTIONS
from pairing.discrimination.binomial import critical, interval, p_value
from pairing.discrimination.thurstone import CHANCE, DPrime, d_prime_of
from pairing.errors import LogError, TableError
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing.quantities.readable import between

__all__ = ["METHOD_OF", "CheckResult", "comparisons", "evidence", "result", "result_of", "said"]

_ABOVE = {
    "stronger": "tastes stronger than",
    "prefer": "is preferred to",
    "closer": "is closer to the target than",
}
METHOD_OF = {asked.kept_as: method for (method, _), asked in QUESTIONS.items()}
"""Method by the question that is kept."""


@dataclass(frozen=True, kw_only=True)
class CheckResult:
    """Outcome of a finished check.

    Attributes
    ----------
    shown : bool
        A difference was shown at the risk that was planned for.
    picked : {"a", "b"} or None
        Side that was picked more often, where the question has sides and a difference was shown.
    right, n : int
        Answers that picked ``a`` (or were right), and answers that count.
    ties, skipped : int
    share, low, high : float
        Share of right answers with its exact 95 % interval.
    p : PValue
        Exact; of a sequential check by the order of its stages, since stopping early changes what luck does.
    p_value : float
    d_prime : DPrime
        On the side that was picked more often.
    sentence : str
        All of it in one sentence.
    """

    shown: bool
    picked: str | None
    right: int
    n: int
    ties: int
    skipped: int
    share: float
    low: float
    high: float
    p: PValue
    d_prime: DPrime
    sentence: str = ""

    @property
    def p_value(self) -> float:
        """The p-value alone."""
        return self.p.value


def result(check: BlindCheck) -> CheckResult:
    """Judge a finished check.

    Raises
    ------
    LogError
        When it is not finished: half a check is never judged, or luck could be waited for.

    Examples
    --------
    >>> from pairing.blind.plan import plan
    >>> check = plan("oat|plum=2", "oat|plum=1", servings=5, random_state=0)
    >>> for serving in check.servings:
    ...     check = check.answer(serving.codes[serving.contents.index("a")])
    >>> found = result(check)
    >>> found.shown, found.right, found.n, round(found.p_value, 3)
    (True, 5, 5, 0.031)
    """
    if not check.finished:
        raise LogError(f"the check is not finished: {check.progress}", "go on, it is kept until then")
    right, n = check.counts
    if n == 0:
        raise LogError("no serving has an answer that counts", "plan a new check")
    shown, p = _verdict(check, right, n)
    larger = max(right, n - right) if check.two_sided else right
    low, high = interval(right, n)
    picked = ("a" if right >= n - right else "b") if shown and check.method in ("paired", "3-afc") else None
    ties = sum(answer.tie for answer in check.answers)
    skipped = sum(answer.skipped for answer in check.answers)
    found = CheckResult(
        shown=shown,
        picked=picked,
        right=right,
        n=n,
        ties=ties,
        skipped=skipped,
        share=right / n,
        low=low,
        high=high,
        p=PValue(p, check.two_sided, check.rule is not None),
        d_prime=d_prime_of(larger, n, check.method),
    )
    return replace(found, sentence=said(check, found))


def result_of(check: BlindCheck, rows: int, ties: int) -> CheckResult | None:
    """Return the result of a finished check that goes with so many rows of comparisons and ties; None of another."""
    if not check.finished or sum(check.counts) == 0:
        return None
    found = result(check)
    return found if (found.n + found.ties, found.ties) == (rows, ties) else None


def comparisons(check: BlindCheck) -> pd.DataFrame:
    """Return the rows of a finished check for the ``comparisons`` table.

    Left and right are as they stood before the taster; alone, where the taster shuffled, left is ``a``. Of three cups,
    and with a reference, left is the side that counts as right, and ``answer`` says which side's cup was picked.

    Raises
    ------
    LogError
        When it is not finished.
    """
    if not check.finished:
        raise LogError(f"the check is not finished: {check.progress}", "go on, it is kept until then")
    text = {"a": recipe_text(check.a), "b": recipe_text(check.b)}
    rows = []
    for answer in check.answers:
        if answer.skipped:
            continue
        serving = check.serving(answer.serving)
        left = serving.contents[0] if check.method == "paired" and not check.alone else serving.right
        right = "b" if left == "a" else "a"
        picked = "tie" if answer.code is None else "left" if serving.content(answer.code) == left else "right"
        rows.append(
            {
                "check_id": check.check_id,
                "serving": serving.number,
                "question": check.asked.kept_as,
                "left": text[left],
                "right": text[right],
                "answer": picked,
                "taster": check.taster,
                "served_at": answer.at,
            }
        )
    return pd.DataFrame(rows)


def evidence(
    rows: pd.DataFrame, recipe: Recipe, checks: Mapping[str, BlindCheck] = MappingProxyType({})
) -> tuple[str, ...]:
    """Say what kept checks found about one recipe, one sentence a check.

    Parameters
    ----------
    rows : DataFrame
        The ``comparisons`` table.
    recipe : Recipe
        Sides with the same base and flavourings, doses within e^±0.2, count as this one; a closer one is preferred.
    checks : mapping of id to BlindCheck
        How finished checks were planned, as far as that is kept: the p-value is then that of their result.
    """
    tally: dict[tuple[str, str, str], list[int]] = {}
    mine = {text for text in {*rows["left"], *rows["right"]} if _is(text, recipe)}
    for row in rows.to_dict("records"):
        here = [side for side in ("left", "right") if row[side] in mine]
        if len(here) == 2:  # both sides are within reach of it: the closer one is meant
            here = [min(here, key=lambda side: distance(parse_recipe_text(row[side]), recipe))]
        if here and row["answer"] != "tie":
            other = str(row["right" if here[0] == "left" else "left"])
            won = tally.setdefault((str(row["check_id"]), str(row["question"]), other), [0, 0])
            right = here[0] if row["question"] in _ABOVE else "left"
            won[0] += row["answer"] == right
            won[1] += 1
    out = []
    for (check_id, question, other), (hits, n) in tally.items():
        if question not in METHOD_OF:
            continue
        two_sided = question in _ABOVE
        p = PValue(p_value(hits, n, CHANCE[METHOD_OF[question]], two_sided=two_sided), two_sided, None)
        mine_alone = rows[rows["check_id"] == check_id]
        ties = int((mine_alone["answer"] == "tie").sum())
        if check_id in checks and (planned := result_of(checks[check_id], len(mine_alone), ties)) is not None:
            p = planned.p
        if two_sided:
            out.append(f"blind check {check_id}: {_ABOVE[question]} {other} in {hits} of {n} ({p})")
        else:
            out.append(f"blind check {check_id}, {question}: {hits} of {n} right against {other} ({p})")
    return tuple(out)


def _is(text: object, recipe: Recipe) -> bool:
    try:
        return distance(parse_recipe_text(str(text)), recipe) <= IN_RANGE_LOG
    except TableError:  # a trial's id
        return False


def _verdict(check: BlindCheck, right: int, n: int) -> tuple[bool, float]:
    """Say whether a difference is shown, and its p-value.

    A sequential check may run out of servings when some were left out: then the p-value of its stage decides.
    """
    if check.rule is not None:
        p = check.rule.p_value(right, n)
        state = check.rule.state(right, n)
        return (state == DIFFERENT or (state == GO_ON and p <= check.alpha)), p
    p0 = CHANCE[check.method]
    needed = critical(n, p0, check.alpha, two_sided=check.two_sided)
    larger = max(right, n - right) if check.two_sided else right
    return needed is not None and larger >= needed, p_value(right, n, p0, two_sided=check.two_sided)


def said(check: BlindCheck, found: CheckResult, called: Callable[[Recipe], str] = recipe_text) -> str:
    """Say what a finished check found in one sentence; ``called`` says how its sides are called."""
    d = found.d_prime
    larger = max(found.right, found.n - found.right) if check.two_sided else found.right
    if math.isinf(d.value):
        size = f"d′ above {d.low:.2f}, 95 %"
    else:
        ends = f"above {d.low:.2f}, 95 %" if math.isinf(d.high) else between(d.low, d.high, ".2f", 95)
        size = f"d′ = {d.value:.2f} ({ends})"
    numbers = f"{larger} of {found.n}; {found.p}; {size}"
    if not found.shown:
        return (
            f"No difference shown ({numbers}). That is no proof of sameness: a difference of d′ = {check.d_prime:g} "
            f"would have been found with a chance of {check.power:.0%}, a smaller one less often."
        )
    if found.picked is None:
        return f"The two can be told apart ({numbers})."
    sides = {"a": called(check.a), "b": called(check.b)}
    above, below = sides.pop(found.picked), next(iter(sides.values()))
    return f"{above} {_ABOVE[check.question]} {below} ({numbers})."
