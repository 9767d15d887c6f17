"""Off-notes from the logs of many kitchens: the logistic regressions of `pairing.learning.off_notes`, over parts.

Only kitchens that ever wrote down an off-note are asked: where nobody looks for any, none is found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.learning.block import Entries
from pairing.learning.off_notes import SPREADS, design, laplace, log_odds_sums, notes_in, precision_of
from pairing.learning.parts import Parts
from pairing.model.arrays import Floats, Ints
from pairing.model.shelf import Shelf
from pairing.pooling.folder import LogPart
from pairing.pooling.survey import Behind

__all__ = ["NoteFit", "Noted", "fit_notes"]

LEAST_BETWEEN = 0.01
"""Variance of kitchens around what they share, at least, in squared log odds (our choice)."""


@dataclass(frozen=True, eq=False)
class Noted:
    """Readings of the kitchens of one part that write down off-notes.

    Attributes
    ----------
    x : sparse matrix, shape (n, p)
        See `pairing.learning.off_notes.design`.
    kitchen : int array, shape (n,)
    strength : mapping of note to array, shape (n,)
        1 to 3, 0 where it was not found.
    """

    x: Any
    kitchen: Ints
    strength: Mapping[str, Floats]

    @classmethod
    def of(cls, part: LogPart, shelf: Shelf, usual: Floats) -> Noted:
        """Read the off-notes of a part."""
        log = part.log
        said = [notes_in(text) if isinstance(text, str) else {} for text in log.off_notes]
        named = np.array([bool(one) for one in said], bool)
        asked = np.isin(part.kitchen, part.kitchen[named]) & (named | ~np.isnan(log.liking))
        rows = np.flatnonzero(asked)
        names = sorted({note for one in said for note in one})
        strength = {note: np.array([said[i].get(note, 0) for i in rows], float) for note in names}
        return cls(design(shelf, log.recipes.take(rows), usual), part.kitchen[rows], strength)

    def found(self, note: str) -> Floats:
        """Whether a note was found, 0 or 1."""
        none = np.zeros(len(self.kitchen))
        return np.asarray((self.strength.get(note, none) > 0).astype(float))

    def told(self) -> dict[str, Any]:
        """Count who stands behind each column, and how often and how strong each note was found."""
        row, column = self.x.nonzero()
        out: dict[str, Any] = {"columns": Behind.among(Entries.of(row, column), self.kitchen)}
        for note, strength in self.strength.items():
            rows = np.flatnonzero(strength)
            out[f"found {note}"] = Behind.among(Entries.of(rows, np.zeros(len(rows), np.int64)), self.kitchen)
            out[f"strength {note}"] = float(strength.sum())
        return out

    def sums(self, note: str, weights: Floats) -> dict[str, Any]:
        """Log-likelihood of a note, its gradient and what it has of curvature."""
        return log_odds_sums(self.x, self.found(note), weights)

    def between(self, note: str, weights: Floats) -> dict[str, Any]:
        r"""Sum, over kitchens, what tells by how much they differ in each column.

        With O found and :math:`E = \sum p` expected of a kitchen, :math:`V = \sum p (1 - p)`, effects that differ by a
        variance :math:`\tau` make :math:`\mathrm{E}(O - E)^2 \approx V + \tau V^2` (method of moments; DerSimonian &
        Laird 1986, Control. Clin. Trials 7:177).
        """
        p = 1.0 / (1.0 + np.exp(-np.asarray(self.x @ weights)))
        kitchens, place = np.unique(self.kitchen, return_inverse=True)
        row, column = self.x.nonzero()
        cell = place[row] * self.x.shape[1] + column
        size = len(kitchens) * self.x.shape[1]
        off, spread = (
            np.bincount(cell, values[row], minlength=size).reshape(len(kitchens), -1)
            for values in (self.found(note) - p, p * (1.0 - p))
        )
        return {"excess": (off**2 - spread).sum(axis=0), "square": (spread**2).sum(axis=0)}


@dataclass(frozen=True, eq=False)
class NoteFit:
    """What kitchens share of one off-note.

    Attributes
    ----------
    mean, variance : arrays, shape (p,)
        Log odds of each column of the design.
    between : tuple of three floats
        Variance of kitchens around the average, the bases and the flavourings.
    spread : float
        Standard deviation of bases, and of flavourings.
    strength : float
        How strong it was where it was found, 1 to 3.
    found : Behind
        With one key: how often it was found, and in how many kitchens.
    """

    mean: Floats
    variance: Floats
    between: tuple[float, float, float]
    spread: float
    strength: float
    found: Behind


def fit_notes(noted: Parts, shelf: Shelf) -> tuple[dict[str, NoteFit], Behind | None]:
    """Learn every note; also return who stands behind each column of the design."""
    told = noted.sum(Noted.told)
    names = [name.removeprefix("found ") for name in told if name.startswith("found ")]
    return {note: _fit(noted, shelf, note, told) for note in names}, told.get("columns")


def _fit(noted: Parts, shelf: Shelf, note: str, told: Mapping[str, Any]) -> NoteFit:
    n_base, n_flav = len(shelf.bases), len(shelf.flavourings)
    n, found = int(told["columns"].count[0]), told[f"found {note}"]
    share = (found.count[0] + 0.5) / (n + 1.0)
    expected = np.zeros(1 + n_base + 2 * n_flav)
    expected[0] = np.log(share / (1.0 - share))
    fits = {
        sd: laplace(lambda w: noted.sum(Noted.sums, note, w), expected, precision_of(n_base, n_flav, sd, sd))
        for sd in SPREADS
    }
    spread = max(fits, key=lambda sd: fits[sd][2])
    mean, covariance, _ = fits[spread]
    moments = noted.sum(Noted.between, note, mean)
    groups = slice(0, 1), slice(1, 1 + n_base), slice(1 + n_base, 1 + n_base + n_flav)
    whole, base, flav = (
        max(float(moments["excess"][g].sum() / max(moments["square"][g].sum(), 1e-9)), LEAST_BETWEEN) for g in groups
    )
    strength = told[f"strength {note}"] / found.count[0]
    return NoteFit(mean, np.diag(covariance).copy(), (whole, base, flav), spread, float(strength), found)
