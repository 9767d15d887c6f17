"""What takes part in planning and in judging plans: hard limits, goals, and guesses to compare the model with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pairing.model.tables import RecipeTable

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Baseline", "Goal", "Limit", "Scores"]


@dataclass(frozen=True, kw_only=True)
class Limit:
    """A hard limit of what is suggested. Since 1.1.

    Attributes
    ----------
    id : str
    summary : str
        What is kept, as people read it where it left something out: ``at most 5 g sugars per 100 g``.
    source : str
    passes : callable
        ``passes(table) -> array of bool, shape (n,)``, of a `RecipeTable` with the doses that would be suggested.
    because : callable
        ``because(recipe) -> str``, or of recipe and table: why that recipe is left out.
    needs : tuple of str
        Columns without which nobody can tell: a recipe that lacks one does not pass. Unknown is never zero.
    """

    id: str
    summary: str
    source: str
    passes: Callable[[Any], NDArray[Any]]
    because: Callable[..., str]
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Goal:
    """Something else that a suggestion is worth, beside what its cup teaches and how it will be liked. Since 1.1.

    Attributes
    ----------
    id, summary, source
    points : float
        What a feature of 1 is worth, in liking points, 0 to 4: 0.3 is much, where a cup is expected to raise the best
        known liking by 0.2.
    feature : callable
        ``feature(table) -> array in [-1, 1], shape (n,)``, of a `RecipeTable`.
    because : callable
        ``because(recipe) -> str``, or of recipe and table: why it is worth that.
    needs : tuple of str
        Columns without which it means nothing; where one is unknown it adds nothing.
    """

    id: str
    summary: str
    source: str
    points: float
    feature: Callable[[Any], NDArray[Any]]
    because: Callable[..., str]
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Scores:
    """Cups with what was said of them, for a `Baseline`. Since 1.1.

    Attributes
    ----------
    table : RecipeTable
        One row per score.
    taster : array of int, shape (n,)
        Who said it; ``n_tasters`` is the number of those who may occur.
    liking : array, shape (n,)
        1 to 9; NaN where it is asked for.
    """

    table: RecipeTable
    taster: NDArray[Any]
    n_tasters: int
    liking: NDArray[Any]


@dataclass(frozen=True, kw_only=True)
class Baseline:
    """A guess of liking that ``pairing evaluate`` puts beside the model. Since 1.1.

    Attributes
    ----------
    id : str
    summary : str
        How it guesses, in a sentence.
    source : str
    guess : callable
        ``guess(known, asked) -> array, shape (n,)``: liking from 1 to 9 of the asked `Scores`, from the known ones.
    """

    id: str
    summary: str
    source: str
    guess: Callable[[Scores, Scores], NDArray[Any]]
