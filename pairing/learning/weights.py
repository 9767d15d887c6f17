"""What became of the scoring rules: prior beside learned weight, and learned curves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pairing.learning.rules import parts_of, rule_block
from pairing.model.constants import Z80

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.learning.liking import Liking
    from pairing.learning.off_notes import OffNotes
    from pairing.learning.strength import Strength

__all__ = ["rule_curves", "rule_weights"]


def rule_weights(
    rules: Sequence[RuleLike], strength: Strength, liking: Liking, notes: Callable[[], OffNotes] | None = None
) -> pd.DataFrame:
    """Prior and learned weight of every rule that has one; see `Learned.rule_weights`."""
    rows = [
        (
            *(rule.id, rule.acts_on, rule.summary, rule.prior_mean, rule.prior_sd),
            *(notes().weight(rule) if notes and rule.acts_on == "off-note" else _weight(rule, 0, strength, liking)),
        )
        for rule in rules
        if rule.acts_on in ("liking", "dose", "off-note") and not parts_of(rule)
    ]
    columns = ["rule", "acts_on", "summary", "prior_mean", "prior_sd", "learned_mean", "learned_sd"]
    return pd.DataFrame(rows, columns=columns)


def rule_curves(rules: Sequence[RuleLike], strength: Strength, liking: Liking) -> pd.DataFrame:
    """Prior and learned weight of every part of the rules that have several; see `Learned.rule_curves`."""
    rows = [
        (*about, part, at, rule.prior_mean, rule.prior_sd, *_weight(rule, place, strength, liking))
        for rule in rules
        for about in [(rule.id, rule.acts_on, getattr(rule, "along", ""))]
        for place, part in enumerate(parts_of(rule))
        for at in [float("nan") if isinstance(part, str) else float(part)]
    ]
    columns = ["rule", "acts_on", "along", "part", "at", "prior_mean", "prior_sd", "learned_mean", "learned_sd"]
    found = pd.DataFrame(rows, columns=columns)
    half = Z80 * found["learned_sd"]
    return found.assign(low=found["learned_mean"] - half, high=found["learned_mean"] + half)


def _weight(rule: RuleLike, key: int, strength: Strength, liking: Liking) -> tuple[float, float]:
    """Mean and sd of one weight of a rule, as learned; the prior's where no cup speaks of it."""
    fit = strength if rule.acts_on == "dose" else liking
    columns, name = fit.columns, rule_block(rule)
    place = np.flatnonzero(columns.keys.get(name, np.empty(0)) == key)
    if not len(place):
        return rule.prior_mean, rule.prior_sd
    at = columns.start[name] + int(place[0])
    unit = np.zeros((1, columns.n))
    unit[0, at] = 1.0
    return float(fit.posterior.mean[at]), float(np.sqrt(fit.posterior.variance(unit)[0]))
