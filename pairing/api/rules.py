"""Scoring rules: expectations with a prior weight, which the log then corrects."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from os import PathLike
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["CORE_COLUMNS", "Rule", "RuleLike", "bins", "spline"]

CORE_COLUMNS = ("fat*fat_loving", "companions")
"""Columns of the needed dose that the model has anyway, in natural log units: fat of the base (in standard deviations
over the bases) × ``fat_loving``; and the number of other flavourings in the cup."""


@runtime_checkable
class RuleLike(Protocol):
    """What counts as a rule: anything with these fields. `Rule` is the ready-made one."""

    @property
    def id(self) -> str: ...  # noqa: D102
    @property
    def summary(self) -> str: ...  # noqa: D102
    @property
    def source(self) -> str: ...  # noqa: D102
    @property
    def acts_on(self) -> str: ...  # noqa: D102
    @property
    def prior_mean(self) -> float: ...  # noqa: D102
    @property
    def prior_sd(self) -> float: ...  # noqa: D102
    @property
    def needs(self) -> tuple[str, ...]: ...  # noqa: D102
    @property
    def feature(self) -> Callable[[Any], NDArray[Any]]: ...  # noqa: D102
    @property
    def because(self) -> Callable[..., str]: ...  # noqa: D102


@dataclass(frozen=True, kw_only=True)
class Rule:
    """An expectation with a prior weight, which the log then corrects.

    The model learns one weight per rule: effect = weight × feature. A rule is a prior, not a verdict.

    Attributes
    ----------
    id : str
        Short name, unique within the plugin, lower case with hyphens; the host calls it ``plugin:id``.
    summary : str
        One sentence that people read.
    source : str
        Where it comes from: a reference, or ``common practice (no source)``, or ``from memory``.
    acts_on : {"liking", "dose", "off-note", "caution"}
        ``liking``: the feature has one value per recipe and the weight is in liking points. ``dose``: one value per
        addition, and the weight shifts the natural logarithm of the needed dose (0.7 doubles it). ``off-note``: one
        value per recipe, and the weight shifts the log odds that ``note`` is found (-0.5: about a third fewer cups;
        since 1.1). ``caution``: one value per recipe, above 0 where the caution applies; nothing is learned.
    prior_mean, prior_sd : float
        What the weight is expected to be before any cup was logged, and how far it may well be off.
    needs : tuple of str
        Columns without which the feature means nothing. Where one is unknown the host sets the feature to 0 and says
        so. A caution that should rather warn when in doubt leaves the column out and handles NaN itself.
    feature : callable
        ``feature(table) -> array in [-1, 1]``. `RecipeTable` in, shape (n,) out; for ``dose`` an `AdditionTable`. With
        ``parts``, shape (n, number of parts).
    because : callable
        ``because(recipe) -> str``: the reason, or the caution, in words. One that takes two values is handed the recipe
        and its table of one recipe, with all facts in it (since 1.1).
    severity : {"stop", "warn", "note"} or None
        Of a caution: ``stop`` is never suggested and never planned for a blind check. None: ``warn`` where the feature
        is 1, ``note`` where it is between 0 and 1.
    depends_on : tuple of path or text
        What the feature rests on beyond the plugin's own code and settings: files or folders that it reads (as
        `pathlib.Path`, relative to the plugin's file), or a text that changes with it. Where it is another, all is
        learned anew. A plugin may have a ``depends_on`` of its own beside ``PAIRING_API``.
    parts : tuple of float or str
        Several features in one rule, each with a weight of its own and all with the one prior: the points of a curve as
        numbers (`spline` makes its features), or names (`bins`). Empty: one feature. Since 1.1.
    along : str
        What the points of a curve lie along, with its unit, such as ``g sugars per 100 g of cup``: for drawing.
    note : str
        Of a rule on ``off-note``: which one, such as ``beany``, after the swallow, too; or what stays then alone, such
        as ``sweet@aftertaste``. Since 1.1.
    column : str or None
        Name of a column of the needed dose that the model has anyway, one of `CORE_COLUMNS`. The prior then informs
        that column instead of adding a second one that says the same.
    """

    id: str
    summary: str
    source: str
    acts_on: str
    feature: Callable[[Any], NDArray[Any]]
    because: Callable[..., str]
    prior_mean: float = 0.0
    prior_sd: float = 1.0
    needs: tuple[str, ...] = ()
    column: str | None = None
    parts: tuple[float | str, ...] = ()
    along: str = ""
    severity: str | None = None
    depends_on: tuple[str | PathLike[str], ...] = ()
    note: str = ""


def spline(values: ArrayLike, points: Sequence[float]) -> NDArray[np.float64]:
    """Return the features of a curve that runs straight from point to point: a linear spline. Since 1.1.

    Each column is 1 at its own point, 0 at all others and straight between; a row adds up to 1. Before the first point
    and after the last one the curve is level. An unknown value has unknown features.

    Parameters
    ----------
    values : array, shape (n,)
    points : sequence of float, shape (p,)
        Ascending.

    Returns
    -------
    array, shape (n, p)

    Examples
    --------
    >>> spline([0, 5, 12], (0, 10))
    array([[1. , 0. ],
           [0.5, 0.5],
           [0. , 1. ]])
    """
    x = np.asarray(values, dtype=float)
    at = np.asarray(points, dtype=float)
    return np.column_stack([np.interp(x, at, own) for own in np.eye(len(at))])


def bins(values: ArrayLike, edges: Sequence[float]) -> NDArray[np.float64]:
    """Return the features of a curve in steps: column j is 1 from edge j up to below edge j + 1. Since 1.1.

    What lies before the first edge or from the last one on belongs to the first and the last step. An unknown value has
    unknown features.

    Examples
    --------
    >>> bins([0.5, 2, 9], (0, 1, 5))
    array([[1., 0.],
           [0., 1.],
           [0., 1.]])
    """
    x = np.asarray(values, dtype=float)
    steps = len(edges) - 1
    place = np.clip(np.searchsorted(np.asarray(edges, dtype=float), x, side="right") - 1, 0, steps - 1)
    found = np.eye(steps)[place]
    found[np.isnan(x)] = np.nan
    return found
