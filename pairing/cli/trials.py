"""Cups of before, as commands name them: by the beginning of their id; and what went into them."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from pairing.errors import UnknownIdError, first_few, nearest
from pairing.model.doses import grams

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench

__all__ = ["LAST", "named_trials", "poured_again", "short", "trial_named"]

LAST = "last"
"""What names the cup that was logged last."""
_SHORT = 6
_MOST_NAMED = 4
_MOST_COMPARED = 1000
"""Cups, the latest, among which a slip of the pen is looked for (our choice)."""


def trial_named(bench: Bench, text: str) -> str:
    """Return the trial whose id begins so, or the last one logged.

    Raises
    ------
    UnknownIdError
        When none does, or several do.
    """
    wanted = text.strip()
    found = bench.trials(wanted)
    if wanted in found:
        return wanted
    if wanted == LAST and (last := bench.last_trial()) is not None:
        return last
    if len(found) == 1:
        return found[0]
    if found:
        some = first_few([short(one, bench.trials) for one in found], _MOST_NAMED)
        raise UnknownIdError(f"{len(found)} trials begin with {text!r}: {some}", "write more of it, until it is one")
    with contextlib.suppress(UnknownIdError):  # taken back since, and kept all the same
        return str(bench.history(wanted)["trial_id"].iloc[0])
    ids = named_trials(bench)
    raise UnknownIdError(f"no trial begins with {text!r}", nearest(text, ids) if ids else "log a cup first")


def named_trials(bench: Bench) -> list[str]:
    """Return the latest trials as people name them: names of their own, and the beginnings of a few other ids."""
    ids = bench.trials()[-_MOST_COMPARED:]
    made = [one for one in ids if _is_made(one)]
    return [*(one for one in ids if not _is_made(one)), *(short(one, bench.trials) for one in made[-_MOST_NAMED:])]


def short(trial_id: str, alike: Callable[[str], Sequence[str]]) -> str:
    """Return the beginning of an id that names it among others, six letters at least; names of one's own stay whole.

    Parameters
    ----------
    alike : callable
        Returns the ids that begin with some letters.

    Examples
    --------
    >>> others = ["d7b223513ff0447c9580bff9d0bdf35d", "d7b223" + 26 * "0"]
    >>> short(others[0], lambda letters: others), short("tuesday", lambda letters: [])
    ('d7b2235', 'tuesday')
    """
    if not _is_made(trial_id):
        return trial_id
    others = [one for one in alike(trial_id[:_SHORT]) if one != trial_id]
    return next(
        trial_id[:n] for n in range(_SHORT, 33) if n == 32 or not any(one.startswith(trial_id[:n]) for one in others)
    )


def _is_made(trial_id: str) -> bool:
    return len(trial_id) == 32 and set(trial_id) <= set("0123456789abcdef")


def poured_again(bench: Bench, trial_id: str) -> tuple[str, float, dict[str, list[str]]]:
    """Return base, g of base and additions (flavouring to amounts, as they were said) of a cup, to pour it once more.

    What came from a table without steps is taken from its last reading.
    """
    kept = bench.trial(trial_id)
    steps, readings = kept["steps"], kept["readings"]
    base_id = str(readings["base_id"].iloc[0])
    if (steps["kind"] == "pour").any() and not (steps["kind"] == "split").any():
        added: dict[str, list[str]] = {}
        for row in steps[steps["kind"] == "add"].to_dict("records"):
            added.setdefault(str(row["item_id"]), []).append(str(row["as_entered"] or f"{row['amount_g']:.6g} g"))
        return base_id, float(steps.loc[steps["kind"] == "pour", "amount_g"].sum()), added
    base_g = _base_g(bench, base_id, readings)
    doses = _last_doses(readings)
    return base_id, base_g, {name: [f"{g:.4g} g"] for name, g in grams(base_g, doses).items()}


def _base_g(bench: Bench, base_id: str, readings: pd.DataFrame) -> float:
    said = readings["base_g"].dropna()
    return float(said.iloc[-1]) if len(said) else bench.shelf().base(base_id).serving()


def _last_doses(readings: pd.DataFrame) -> Mapping[str, float]:
    last = readings[readings["reading"] == readings["reading"].max()]
    rows = last[last["flavouring_id"].notna()].to_dict("records")
    return {str(row["flavouring_id"]): float(row["dose_g_per_kg"]) for row in rows}
