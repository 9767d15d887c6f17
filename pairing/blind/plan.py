"""Planning a blind check: how many servings, in which order, under which codes."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

from pairing.blind.check import BlindCheck
from pairing.blind.codes import N_CODES, codes
from pairing.blind.orders import arrangements
from pairing.blind.sequential import stopping_rule
from pairing.blind.serving import QUESTIONS, CodedServing
from pairing.discrimination.binomial import critical, servings_needed
from pairing.discrimination.thurstone import CHANCE, percent_correct
from pairing.errors import LogError, QuantityError, nearest
from pairing.model.chance import generator
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.fields import clean_id
from pairing.model.kept_recipe import recipes_meant
from pairing.model.recipe import Recipe, parse_recipe_text

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

__all__ = ["MAX_SERVINGS", "PER_SESSION", "how_long", "plan"]

MAX_SERVINGS = 1000
PER_SESSION = 6
"""Servings in a row before a break of hours: 4 to 6 for strong or lingering samples (custom; from memory)."""
MAX_PER_SESSION = 20


def plan(
    a: Recipe | str,
    b: Recipe | str,
    *,
    question: str = "stronger",
    method: str = "paired",
    expect_a: bool | None = None,
    taster: str = DEFAULT_TASTER,
    d_prime: float = 1.0,
    alpha: float = 0.05,
    power: float = 0.9,
    sequential: bool = True,
    servings: int | None = None,
    per_session: int = PER_SESSION,
    ties: bool = False,
    alone: bool = False,
    target: str = "",
    check_id: str | None = None,
    kept: pd.DataFrame | None = None,
    random_state: int | np.random.Generator | None = None,
) -> BlindCheck:
    """Plan a blind check of two recipes.

    Parameters
    ----------
    a, b : Recipe or str
        The two sides with numeric doses, as recipes or as text (``oat|plum=1.2``, or a name that is ``kept``).
    question : {"stronger", "prefer", "closer", "odd"}
        *odd* goes with triangle and duo-trio, the others with paired, *stronger* and *closer* also with 3-AFC.
    method : {"paired", "3-afc", "triangle", "duo-trio"}
        A directed question needs about a tenth of the servings of an odd one out.
    expect_a : bool, optional
        Whether ``a`` is expected to be picked, decided before tasting: a one-sided test. The default is True, and False
        for a preference.
    taster : str
    d_prime : float
        The difference worth having; 1 is right in 76 of 100 pairs.
    alpha, power : float
        Risk of calling a difference that is not there; chance of finding one of ``d_prime``.
    sequential : bool
        Stop as soon as the answer is clear.
    servings : int, optional
        A fixed number instead; the check is then not sequential.
    per_session : int
        Servings per sitting.
    ties : bool
        Allow 'no difference' as an answer; ties count for neither side.
    alone : bool
        Without a helper: stickers under the cups.
    target : str
        What *closer* is measured against; it is poured beside every serving.
    check_id : str, optional
    kept : DataFrame, optional
        The ``recipes`` table of a bench: a name in it, or ``name@version``, stands for its recipe.
    random_state : int, Generator or None
        Of orders and codes; fix it only in tests, or codes repeat.

    Returns
    -------
    BlindCheck

    Raises
    ------
    LogError, QuantityError, TableError
        When the question does not go with the method, *closer* has no target, a dose is open, the sides are alike, or a
        number is out of range.

    Examples
    --------
    >>> check = plan("oat|plum=2", "oat|plum=1", random_state=0)
    >>> check.rule.fixed, round(check.rule.servings(0.76), 1), len(check.servings)
    (30, 16.9, 60)
    """
    sides, taster = _sides(a, b, kept), clean_id(taster, "taster")
    _check_question(question, method)
    if question == "closer" and not target.strip():
        hint = "say what is poured beside them: target (--target on the command line)"
        raise LogError("a check of which cup is closer has no target", hint)
    if isinstance(per_session, bool) or per_session not in range(1, MAX_PER_SESSION + 1):
        raise QuantityError(f"{per_session!r} servings a session, allowed is 1 to {MAX_PER_SESSION}", "tongues tire")
    directed = (question != "prefer") if expect_a is None else expect_a
    two_sided = method == "paired" and not directed
    n = _number(
        method,
        two_sided=two_sided,
        d_prime=d_prime,
        alpha=alpha,
        power=power,
        sequential=sequential and servings is None,
        servings=servings,
    )
    rng = generator(random_state)
    return BlindCheck(
        check_id=check_id or f"blind-{uuid.uuid4().hex[:10]}",
        question=question,
        method=method,
        a=sides[0],
        b=sides[1],
        taster=taster,
        servings=_servings(method, n, per_session, rng),
        alpha=alpha,
        power=power,
        d_prime=d_prime,
        two_sided=two_sided,
        sequential=sequential and servings is None,
        ties=ties,
        alone=alone,
        target=clean_id(target, "target") if target.strip() else "",
    )


def how_long(
    method: str = "paired", question: str = "stronger", d_prime: float = 1.0, alpha: float = 0.05, power: float = 0.9
) -> dict[str, Any]:
    """Return how many servings a check takes.

    Returns
    -------
    dict
        ``method, question, fixed`` (a fixed number), ``different`` and ``same`` (on average when it stops as soon as it
        is clear, with the difference of ``d_prime`` and with none), ``cap`` (the most that it can take).

    Examples
    --------
    >>> found = how_long()
    >>> found["fixed"], round(found["different"]), found["cap"]
    (30, 17, 60)
    """
    _check_question(question, method)
    if not 0 < d_prime <= 6:
        raise QuantityError(f"a difference of d′ = {d_prime:g} cannot be planned for", "use above 0 to 6; 1 is clear")
    two_sided = method == "paired" and question == "prefer"
    rule = stopping_rule(CHANCE[method], percent_correct(d_prime, method), alpha, power, two_sided=two_sided)
    return {
        "method": method,
        "question": question,
        "fixed": rule.fixed,
        "different": rule.servings(rule.p1),
        "same": rule.servings(rule.p0),
        "cap": rule.cap,
    }


def _sides(a: Recipe | str, b: Recipe | str, kept: pd.DataFrame | None) -> tuple[Recipe, Recipe]:
    read = [parse_recipe_text(side) if kept is None and isinstance(side, str) else side for side in (a, b)]
    first, second = (side for side in read if isinstance(side, Recipe)) if kept is None else recipes_meant(read, kept)
    for side in (first, second):
        if open_doses := [name for name, dose in side.doses.items() if dose is None]:
            raise LogError(f"the dose of {', '.join(open_doses)} is open", "give a number, in g/kg of finished drink")
    if first == second:
        raise LogError("both sides are the same recipe", "change a dose, a flavouring or the base of one")
    return first, second


def _check_question(question: str, method: str) -> None:
    if method not in CHANCE:
        raise LogError(f"method {method!r} is not known", nearest(method, CHANCE))
    if (method, question) not in QUESTIONS:
        allowed = [q for m, q in QUESTIONS if m == method]
        raise LogError(f"the question {question!r} does not go with {method}", f"ask {' or '.join(allowed)}")


def _number(
    method: str, *, two_sided: bool, d_prime: float, alpha: float, power: float, sequential: bool, servings: int | None
) -> int:
    if not 0 < d_prime <= 6:
        raise QuantityError(f"a difference of d′ = {d_prime:g} cannot be planned for", "use above 0 to 6; 1 is clear")
    p0, p1 = CHANCE[method], percent_correct(d_prime, method)
    if servings is None:
        if sequential:
            return stopping_rule(p0, p1, alpha, power, two_sided=two_sided).cap
        return servings_needed(p0, p1, alpha, power, two_sided=two_sided)
    if isinstance(servings, bool) or servings != int(servings) or not 1 <= servings <= MAX_SERVINGS:
        raise QuantityError(f"{servings!r} servings cannot be planned, allowed is 1 to {MAX_SERVINGS}", "20 is usual")
    if critical(int(servings), p0, alpha, two_sided=two_sided) is None:
        least = next(n for n in range(1, 200) if critical(n, p0, alpha, two_sided=two_sided) is not None)
        raise QuantityError(
            f"{servings} servings cannot show any difference at a risk of {alpha:g}", f"plan at least {least}"
        )
    return int(servings)


def _servings(method: str, n: int, per_session: int, rng: np.random.Generator) -> tuple[CodedServing, ...]:
    """Set out n servings; codes differ within the check as long as there are enough, and always within a session."""
    ways = arrangements(method, n, rng)
    out: list[CodedServing] = []
    used: list[str] = []
    for start in range(0, n, per_session):
        here = ways[start : start + per_session]
        cups = [way.rpartition("|") for way in here]
        needed = sum(len(contents) for _, _, contents in cups)
        if len(used) + needed > N_CODES:
            used = []
        drawn = list(codes(needed, rng, used))
        used += drawn
        for i, (reference, _, contents) in enumerate(cups):
            mine = tuple(drawn[: len(contents)])
            del drawn[: len(contents)]
            number, session = start + i + 1, start // per_session + 1
            out.append(CodedServing(number=number, session=session, contents=contents, codes=mine, reference=reference))
    return tuple(out)
