"""Blind checks on a bench: kept after every answer, resumed, and entered in the comparisons when they are finished."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

import pandas as pd

from pairing.blind.check import BlindCheck
from pairing.blind.in_hand import DRAFTS, FINISHED, open_checks
from pairing.blind.pvalue import PValue
from pairing.blind.result import METHOD_OF, CheckResult, comparisons, result, result_of
from pairing.blind.safe import refuse_stops
from pairing.discrimination.binomial import p_value
from pairing.discrimination.thurstone import CHANCE
from pairing.errors import ConflictError, LogError, UnknownIdError, nearest
from pairing.model.recipe import recipe_text
from pairing.safety.today import midnight

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["DRAFTS", "begin", "drop", "finish", "finished", "keep", "open_checks", "resume", "summary"]


def begin(bench: Bench, check: BlindCheck) -> None:
    """Keep a newly planned check, unless its taster must not have what is in it, or not so much of it.

    Raises
    ------
    LogError
        When a caution stops either side, or all cups of a session with what the taster swallowed today; when a check
        with this id is there already.
    """
    refuse_stops(check, bench.shelf(), bench.host.rules, bench.swallowed(midnight()))
    known = set(bench.tables("comparisons")["check_id"])
    if check.check_id in known or bench.load_draft(DRAFTS + check.check_id) is not None:
        raise LogError(f"there is a check {check.check_id!r} already", "leave its name to the tool, or take another")
    bench.save_draft(DRAFTS + check.check_id, check.to_dict(), 0)


def keep(bench: Bench, check: BlindCheck) -> None:
    """Keep a check as it stands; a finished one goes into the comparisons with the next call of :func:`finish`.

    Raises
    ------
    ConflictError
        When somebody else has answered in the meantime: the answers kept are not those that this one goes on from.
    """
    name = DRAFTS + check.check_id
    version = {str(d["draft_id"]): int(d["version"]) for d in bench.list_drafts()}.get(name)
    kept = bench.load_draft(name)
    if kept is None or version is None:
        raise UnknownIdError(f"no open check {check.check_id!r}", nearest(check.check_id, open_checks(bench)))
    before, after = BlindCheck.from_dict(kept).answers, check.answers
    if after[: len(before)] != before and after != before[:-1]:  # neither goes on from it nor takes its last back
        raise ConflictError(
            f"check {check.check_id} has {len(before)} answers now, and they are not those that you went on from",
            "look again which serving is next: somebody else has answered",
        )
    bench.save_draft(name, check.to_dict(), version)


def resume(bench: Bench, check_id: str | None = None) -> BlindCheck:
    """Return a check in hand; without an id the only one.

    Raises
    ------
    UnknownIdError
        When there is none of that name.
    LogError
        When no id is given and there is none, or more than one.
    """
    names = open_checks(bench)
    if check_id is None:
        if len(names) != 1:
            raise LogError(
                f"{len(names) or 'no'} checks are open",
                f"name one of: {', '.join(names)} (--check on the command line)" if names else "plan one first",
            )
        check_id = names[0]
    kept = bench.load_draft(DRAFTS + check_id)
    if kept is None:
        raise UnknownIdError(f"no open check {check_id!r}", nearest(check_id, names))
    return BlindCheck.from_dict(kept)


def drop(bench: Bench, check_id: str) -> None:
    """Put a check in hand away for good, its answers with it.

    Raises
    ------
    UnknownIdError
        When there is none of that name.
    """
    if check_id not in (names := open_checks(bench)):
        raise UnknownIdError(f"no open check {check_id!r}", nearest(check_id, names))
    bench.drop_draft(DRAFTS + check_id)


def finish(bench: Bench, check: BlindCheck) -> CheckResult:
    """Enter a finished check in the comparisons and return what it says; doing it twice changes nothing.

    Raises
    ------
    LogError
        When it is not finished.
    """
    found = result(check)
    report = bench.load(comparisons=comparisons(check))
    if len(report.refused):
        row = report.refused.iloc[0]
        raise LogError(f"the check could not be kept: {row['reason']}", str(row["remedy"]))
    bench.save_draft(FINISHED + check.check_id, check.to_dict())
    bench.drop_draft(DRAFTS + check.check_id)
    return found


def finished(bench: Bench) -> dict[str, BlindCheck]:
    """Return the finished checks of which it is kept how they were planned, by id."""
    names = [str(draft["draft_id"]) for draft in bench.list_drafts()]
    kept = {name.removeprefix(FINISHED): bench.load_draft(name) for name in names if name.startswith(FINISHED)}
    return {check_id: BlindCheck.from_dict(plain) for check_id, plain in kept.items() if plain is not None}


def summary(rows: pd.DataFrame, checks: Mapping[str, BlindCheck] = MappingProxyType({})) -> pd.DataFrame:
    """Tabulate finished checks.

    Parameters
    ----------
    rows : DataFrame
        The ``comparisons`` table.
    checks : mapping of id to BlindCheck
        How they were planned, see `finished`.

    Returns
    -------
    DataFrame
        One row per check, in the order of the table: ``check_id, question, taster, a, b, picked_a, n, ties, p_value,
        two_sided, sequential``. Of a check that is among ``checks`` all of it is as its result says: ``a`` is the side
        that was expected, or picked more often where none was. Of others ``a`` is the side picked more often and the
        p-value of two cups two-sided, ``picked_a`` counts right answers of others, and ``sequential`` is None: the
        p-value is that of a fixed number of servings.
    """
    groups = rows.groupby(["check_id", "question"], sort=False)
    out = [
        _as_planned(str(name), str(question), group, checks.get(str(name))) or _summed(str(name), str(question), group)
        for (name, question), group in groups
    ]
    columns = ["check_id", "question", "taster", "a", "b", "picked_a", "n", "ties", *vars(PValue(0.0, False, None))]
    return pd.DataFrame(out, columns=columns).rename(columns={"value": "p_value"})


def _as_planned(
    check_id: str, question: str, group: pd.DataFrame, check: BlindCheck | None
) -> tuple[object, ...] | None:
    """Return what the result of a check says; None where that is not kept, or the answers were corrected since."""
    if check is None or (found := result_of(check, len(group), int((group["answer"] == "tie").sum()))) is None:
        return None
    a, b, hits = recipe_text(check.a), recipe_text(check.b), found.right
    if check.two_sided and hits < found.n - hits:
        a, b, hits = b, a, found.n - hits
    return check_id, question, check.taster, a, b, hits, found.n, found.ties, *vars(found.p).values()


def _summed(check_id: str, question: str, group: pd.DataFrame) -> tuple[object, ...]:
    first, second = str(group["left"].iloc[0]), str(group["right"].iloc[0])
    decided = group[group["answer"] != "tie"]
    n = len(decided)
    method = METHOD_OF.get(question)
    if method in ("paired", None):
        picked = [str(row[row["answer"]]) for row in decided.to_dict("records")]
        if picked.count(second) > picked.count(first):
            first, second = second, first
        hits = picked.count(first)
    else:
        hits = int((decided["answer"] == "left").sum())
    known = method is not None and n > 0
    two_sided = method == "paired"
    p = p_value(hits, n, CHANCE[method], two_sided=two_sided) if known else float("nan")  # type: ignore[index]
    taster = ", ".join(sorted({str(t) for t in group["taster"].dropna()}))
    return check_id, question, taster, first, second, hits, n, len(group) - n, p, two_sided, None
