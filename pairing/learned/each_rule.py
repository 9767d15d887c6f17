"""What each scoring rule is worth: the same cups predicted with and without it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.errors import LogError
from pairing.learned.evaluate import Evaluation, evaluate

if TYPE_CHECKING:
    from pairing.learned.learned import Learned

__all__ = ["ALL_RULES", "each_rule"]

ALL_RULES = "all rules"


def each_rule(
    model: Learned,
    splits: Iterable[str] | None = ("new combinations",),
    progress: Callable[[float], object] | None = None,
) -> pd.DataFrame:
    """Hold cups out and predict them with all rules, without each one, and without any.

    Parameters
    ----------
    model : Learned
    splits : iterable of str, optional
        What is held out, see `evaluate`.
    progress : callable, optional
        Told the share that is done.

    Returns
    -------
    DataFrame
        ``rule, split, cups, error_with, error_without`` (root mean square, liking points), ``gain, gain_sd`` (squared
        points by which a cup is predicted better with the rule, and how sure that is), ``dose_error_with,
        dose_error_without`` (natural log units; NaN where no dose was found right).

    Raises
    ------
    LogError
        When no rule is in force, there are too few cups, or the log does not allow what is to be held out.
    """
    ids = [rule.id for rule in model.rules if rule.acts_on in ("liking", "dose")]
    if not ids:
        raise LogError("no rule on liking or dose is in force", "load plugins that bring some: pairing plugins")
    splits = None if splits is None else list(splits)
    cases = [(), *((name,) for name in ids), tuple(ids)]
    found = []
    for done, without in enumerate(cases):
        found.append(evaluate(model, splits, without=without))
        if progress is not None:
            progress((done + 1) / len(cases))
    whole, *others = found
    rows = [row for name, other in zip([*ids, ALL_RULES], others, strict=True) for row in _rows(name, whole, other)]
    return pd.DataFrame(rows)


def _rows(rule: str, whole: Evaluation, other: Evaluation) -> Iterator[dict[str, Any]]:
    for split, part in whole.predictions.groupby("split", sort=False):
        left = other.predictions[other.predictions["split"] == split]
        with_it, without = ((p["model"] - p["given"]).to_numpy() ** 2 for p in (part, left))
        gain = without - with_it
        yield {
            "rule": rule,
            "split": split,
            "cups": len(part),
            "error_with": float(np.sqrt(with_it.mean())),
            "error_without": float(np.sqrt(without.mean())),
            "gain": float(gain.mean()),
            "gain_sd": float(gain.std() / np.sqrt(max(len(gain) - 1, 1))),
            "dose_error_with": _dose_error(whole, str(split)),
            "dose_error_without": _dose_error(other, str(split)),
        }


def _dose_error(found: Evaluation, split: str) -> float:
    rows = found.doses[found.doses["split"] == split] if len(found.doses) else found.doses
    return float(rows["model"].iloc[0]) if len(rows) else float("nan")
