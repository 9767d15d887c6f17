"""From tables, or from a shelf and a log, to a learned model."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.api import RuleLike
from pairing.errors import LogError, LogWarning
from pairing.learned.improbable import CHECK, improbable_doses
from pairing.learned.learned import Learned
from pairing.learned.prior import Prior
from pairing.learning.adopted import NO_POOL
from pairing.learning.design import Traits
from pairing.learning.liking_fit import fit_liking
from pairing.learning.log import Log, read_log
from pairing.learning.memory import give_back
from pairing.learning.paired import read_comparisons
from pairing.learning.rules import RuleColumns
from pairing.learning.strength import fit_strength
from pairing.model.shelf import Shelf
from pairing.store.exchange import clean

if TYPE_CHECKING:
    import pandas as pd


__all__ = ["fit", "learn", "learn_shelf"]

SMALL = 20_000
"""Readings up to which one thread does the linear algebra: on matrices of this size more of them only wait."""


def fit(
    shelf: Shelf,
    log: Log,
    comparisons: pd.DataFrame | None = None,
    *,
    rules: Sequence[RuleLike] = (),
    revision: int | None = None,
    start: Learned | None = None,
    prior: Prior | None = None,
    public_ids: Mapping[str, str] | None = None,
) -> Learned:
    """Learn needed doses, then liking, then likeness to each target.

    Comparisons that ask which cup is closer do not name the target: they count where the log knows only one.
    ``start`` is an earlier model of the same shelf: its variances are kept where the evidence has not moved from them.
    ``prior`` is what other kitchens know, by public ids; ``public_ids`` are those of this shelf where they differ.

    Raises
    ------
    LogError
        When the shelf has no base or no flavouring.
    """
    from threadpoolctl import threadpool_limits

    if not shelf.bases or not shelf.flavourings:
        what = "base" if not shelf.bases else "flavouring"
        raise LogError(f"the shelf has no {what}", f"load at least one {what} first")
    with threadpool_limits(limits=1 if len(log) <= SMALL else None, user_api="blas"):
        traits = Traits.of(shelf, log.lots)
        rule_columns = RuleColumns.of(shelf, rules)
        stronger = read_comparisons(shelf, log, comparisons, "stronger")
        preferred = read_comparisons(shelf, log, comparisons, "prefer")
        before = start.strength if start else None
        pool = {} if prior is None else prior.on(shelf, traits, public_ids)
        known: dict[str, Any] = {"rules": rule_columns, "pool": pool.get("dose", NO_POOL)}
        strength = fit_strength(log, traits, paired=stronger, start=before, **known)
        earlier = start.liking if start else None
        known["pool"] = pool.get("liking", NO_POOL)
        liking = fit_liking(log, traits, strength, paired=preferred, start=earlier, **known)
        closer = read_comparisons(shelf, log, comparisons, "closer") if len(log.targets) == 1 else None
        likenesses = {
            target: fit_liking(log, traits, strength, scores=_likeness(log, place), ends=(0.0, 10.0), paired=closer)
            for place, target in enumerate(log.targets)
            if not np.isnan(_likeness(log, place)).all()
        }
    return Learned(
        shelf=shelf,
        log=log,
        strength=strength,
        liking=liking,
        likenesses=likenesses,
        rule_columns=rule_columns,
        revision=revision,
        afresh_n=len(log) if start is None else start.afresh_n,
        prior=prior,
        public_ids=public_ids or {},
    )


def _likeness(log: Log, place: int) -> Any:
    return np.where(log.target == place, log.likeness, np.nan)


def learn(
    bases: pd.DataFrame,
    flavourings: pd.DataFrame,
    readings: pd.DataFrame,
    *,
    tasters: pd.DataFrame | None = None,
    comparisons: pd.DataFrame | None = None,
    rules: Sequence[RuleLike] = (),
    prior: Prior | None = None,
    random_state: Any = None,
) -> Learned:
    """Learn from tables, without a bench and without plugins; an improbable dose is warned of (`LogWarning`).

    Parameters
    ----------
    bases, flavourings, readings : DataFrame
        Columns as in the tables of a bench; only the required ones have to be there.
    tasters, comparisons : DataFrame, optional
        People and what they avoid; blind checks.
    rules : sequence of Rule
        Scoring rules, as priors.
    prior : Prior, optional
        What other kitchens know; ids are those of the pool.
    random_state : int, optional
        Learning draws nothing that depends on it: every seed gives the same model.

    Raises
    ------
    TableError
        On the first bad row, naming it, the value, the limit and the remedy.
    """
    base_table = clean("bases", bases, on_bad="raise").table
    tidied = clean("flavourings", flavourings, on_bad="raise")
    flavouring_table = tidied.table if "food_use" in tidied.present else tidied.table.assign(food_use="yes")
    taster_table = None if tasters is None else clean("tasters", tasters, on_bad="raise").table
    shelf = Shelf.from_tables(base_table, flavouring_table, taster_table)
    known = {"bases": list(shelf.bases), "flavourings": list(shelf.flavourings)}
    pairs = None if comparisons is None else clean("comparisons", comparisons, on_bad="raise").table
    tidy = partial(clean, "readings", known=known, on_bad="raise")
    model = learn_shelf(shelf, tidy(readings).table, pairs, rules=rules, prior=prior)
    for note in improbable_doses(model.log, model.strength.traits, list(shelf.flavourings)):
        warnings.warn(f"{note}: {CHECK}", LogWarning, stacklevel=2)
    return model


def learn_shelf(
    shelf: Shelf,
    readings: pd.DataFrame,
    comparisons: pd.DataFrame | None = None,
    *,
    rules: Sequence[RuleLike] = (),
    revision: int | None = None,
    start: Learned | None = None,
    prior: Prior | None = None,
) -> Learned:
    """Learn from a shelf and clean tables; ``start`` is an earlier model to update."""
    log = read_log(shelf, readings)
    del readings  # a huge log need not be in memory twice
    if len(log) > SMALL:
        give_back()
    return fit(shelf, log, comparisons, rules=rules, revision=revision, start=start, prior=prior)
