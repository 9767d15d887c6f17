"""Off-notes: how often each is found, by base, flavouring and dose, with intervals.

Every note has a logistic regression of its own on base, flavourings, log dose and the rules of plugins on it, with
normal priors and a Laplace approximation (Bishop 2006, Pattern Recognition and Machine Learning, section 4.5; from
memory). How widely bases and flavourings differ is not known: the answer is averaged over several spreads, by their
evidence. A reading counts as *not found* where liking was said and that note was not; of what stays after the swallow,
where that was asked, as a log tells that says of some cup that nothing stayed.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.special import expit, logit, softmax

from pairing.errors import UnknownIdError, nearest
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.model.arrays import Floats
from pairing.model.constants import Z80
from pairing.model.recipes import Recipes
from pairing.quantities.constants import MAX_DOSE_G_PER_KG

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.learning.log import Log
    from pairing.model.shelf import Shelf

__all__ = [
    "SPREADS",
    "Expected",
    "OffNotes",
    "design",
    "fit_off_notes",
    "laplace",
    "log_odds_sums",
    "notes_in",
    "precision_of",
]

SPREADS = (0.3, 0.7, 1.5)
"""How widely bases and flavourings may differ, sd in log odds; each counts as much as the evidence says."""
_SPREAD_LOG_SD = 0.6
"""How far the log of a spread may well be from 0, before any cup was judged (our choice)."""
_INTERCEPT_SD, _DOSE_SD = 1.0, 0.5
"""Prior sd of the average, and of the slope on log dose, in log odds (our choice)."""
_OWN_SD = 0.45
"""How far a recipe may be off what its parts lead to expect, sd in log odds (our choice): more than such recipes
differ, since the regression takes the cups of one recipe as if each were another."""
_HEARD = 2.0
"""Log odds, before any cup was judged, that what other kitchens know holds here (our choice)."""
_STEPS = 30
AFTER, _NOTHING_AFTER = "@aftertaste", "none@aftertaste"
"""Of notes that stay after the swallow, and what is written where none did."""
_NOTE = re.compile(r"\s*([^:;@]+?)\s*(?::\s*([1-3]))?\s*(@\s*\w+)?\s*")


def notes_in(text: str) -> dict[str, int]:
    """Read a cell of off-notes: how strong each is, 1 to 3; what is found after the swallow is a note of its own.

    Examples
    --------
    >>> notes_in("bitter:1@aftertaste; Beany:2;chalky")
    {'bitter@aftertaste': 1, 'beany': 2, 'chalky': 1}
    """
    found = {}
    for part in text.split(";"):
        if (match := _NOTE.fullmatch(part)) and match[1].casefold() != "none":
            found[match[1].casefold() + (match[3] or "").replace(" ", "")] = int(match[2] or 1)
    return found


@dataclass(frozen=True, eq=False)
class Expected:
    """What other kitchens know of one note.

    Attributes
    ----------
    mean, variance : arrays, shape (p,)
        Log odds of the columns of `design`; NaN where they do not know.
    strength : float
        How strong it was where it was found.
    """

    mean: Floats
    variance: Floats
    strength: float


@dataclass(frozen=True)
class _Fitted:
    """One note: posterior of its coefficients, and how strong it was where it was found."""

    mean: Floats
    cov: Floats
    strength: Floats
    readings: int


@dataclass(frozen=True, eq=False)
class OffNotes:
    """What the log taught about off-notes.

    Attributes
    ----------
    shelf : Shelf
    log_dose : array, shape (n_flavourings,)
        Log dose (g/kg) at which a flavouring's own effect counts: the middle of what was tasted.
    rules : RuleColumns
        Rules in force: those on a note have columns of their own behind those of `design`.
    """

    shelf: Shelf
    log_dose: Floats
    fitted: dict[str, _Fitted]
    rules: RuleColumns = NO_RULES

    @property
    def names(self) -> tuple[str, ...]:
        """The notes that were found, here or by others, those of most readings here first."""
        return tuple(sorted(self.fitted, key=lambda name: (-self.fitted[name].readings, name)))

    def check(self, note: str) -> str:
        """Return the note as it is kept.

        Raises
        ------
        UnknownIdError
            When it was never found.
        """
        name = note.strip().casefold()
        if name not in self.fitted:
            hint = nearest(name, self.names) if self.names else "log one: --off-notes 'beany:2'"
            raise UnknownIdError(f"no off-note {note!r} was logged yet", hint)
        return name

    def chance(self, note: str, recipes: Recipes) -> tuple[Floats, Floats, Floats]:
        """Return how often a note is to be expected, with 80 % limits, each of shape (n,)."""
        one, x = self.fitted[note], self._columns(note, recipes)
        mean = np.asarray(x @ one.mean)
        variance = np.maximum(np.asarray(x.multiply(x @ one.cov).sum(axis=1)).ravel(), 0.0)
        sd = np.sqrt(variance + _OWN_SD**2)
        expected = expit(mean / np.sqrt(1.0 + np.pi * sd**2 / 8.0))  # Bishop 2006, equation 4.153
        return np.asarray(expected), np.asarray(expit(mean - Z80 * sd)), np.asarray(expit(mean + Z80 * sd))

    def weight(self, rule: RuleLike) -> tuple[float, float]:
        """Return mean and sd of a rule's weight as learned, of the cup or its aftertaste; the prior's where none is."""
        note = next((name for name in self.names if rule in self.rules.on_note(name)), None)
        if note is None:
            return rule.prior_mean, rule.prior_sd
        one, rules = self.fitted[note], self.rules.on_note(note)
        at = len(one.mean) - len(rules) + rules.index(rule)
        return float(one.mean[at]), float(np.sqrt(one.cov[at, at]))

    def _columns(self, note: str, recipes: Recipes) -> Any:
        return _with_rules(self.rules, note, design(self.shelf, recipes, self.log_dose), recipes, self.log_dose)

    def table(self, recipes: Recipes) -> pd.DataFrame:
        """Tabulate every note for every recipe: the columns of `Learned.off_notes`."""
        bases, flavourings = list(self.shelf.bases), list(self.shelf.flavourings)
        base_ids = [bases[b] for b in recipes.base.tolist()]
        inside = [tuple(flavourings[f] for f in row if f >= 0) for row in recipes.flavouring.tolist()]
        parts = []
        for note in self.names:
            p, low, high = self.chance(note, recipes)
            found = {"recipe": np.arange(len(recipes)), "base_id": base_ids, "flavourings": inside, "note": note}
            found |= {"probability": p, "low": low, "high": high}
            parts.append(pd.DataFrame(found | {"strength": self.fitted[note].strength[recipes.base]}))
        columns = ["recipe", "base_id", "flavourings", "note", "probability", "low", "high", "strength"]
        if not parts:
            return pd.DataFrame({name: [] for name in columns})
        return pd.concat(parts).sort_values("recipe", kind="stable", ignore_index=True)


def fit_off_notes(
    shelf: Shelf, log: Log, pool: Mapping[str, Expected] = MappingProxyType({}), rules: RuleColumns = NO_RULES
) -> OffNotes:
    """Learn every note that a log names, or that other kitchens know."""
    said = [notes_in(text) if isinstance(text, str) else None for text in log.off_notes]
    judged = np.array([one is not None for one in said], dtype=bool) | ~np.isnan(log.liking)
    rows = np.flatnonzero(judged)
    recipes = log.recipes.take(rows)
    usual = _usual_doses(shelf, recipes)
    x = design(shelf, recipes, usual)
    strengths = [said[i] or {} for i in rows]
    answered = np.array([AFTER in text if isinstance(text, str) else False for text in log.off_notes[rows]], dtype=bool)
    asked_after = any(isinstance(text, str) and _NOTHING_AFTER in text for text in log.off_notes)
    names = dict.fromkeys([*(note for one in strengths for note in one), *pool])
    fitted = {}
    for off_note in names:
        some = np.flatnonzero(answered | (not (asked_after and off_note.endswith(AFTER))))
        columns, cups = _with_rules(rules, off_note, x, recipes, usual)[some], recipes.take(some)
        force = [strengths[i].get(off_note, 0) for i in some]
        fitted[off_note] = _fit(shelf, rules.on_note(off_note), columns, cups, force, pool.get(off_note))
    return OffNotes(shelf, usual, fitted, rules)


def _with_rules(rules: RuleColumns, note: str, x: Any, recipes: Recipes, usual: Floats) -> Any:
    """Put the features of the rules on a note behind the columns of `design`; an open dose is the usual one."""
    if not rules.on_note(note):
        return x
    at = recipes.log_dose
    dosed = recipes.at_doses(
        np.minimum(np.exp(np.where(np.isnan(at), usual[recipes.flavouring], at)), MAX_DOSE_G_PER_KG)
    )
    return sparse.hstack([x, sparse.csr_matrix(rules.note_features(note, dosed))], format="csr")


def _usual_doses(shelf: Shelf, recipes: Recipes) -> Floats:
    """Mean log dose of every flavouring over the readings; 0 where it was never tasted."""
    at = recipes.present
    places, doses = recipes.flavouring[at], recipes.log_dose[at]
    n = np.bincount(places, minlength=len(shelf.flavourings))
    return np.asarray(np.bincount(places, weights=doses, minlength=len(n)) / np.maximum(n, 1))


def design(shelf: Shelf, recipes: Recipes, usual: Floats) -> sparse.csr_matrix:
    """Make columns: the average, each base, each flavouring, and each flavouring's log dose beside its usual one."""
    n, n_base, n_flav = len(recipes), len(shelf.bases), len(shelf.flavourings)
    row, slot = np.nonzero(recipes.flavouring >= 0)
    place = recipes.flavouring[row, slot]
    more = np.nan_to_num(recipes.log_dose[row, slot] - usual[place])
    rows = np.concatenate([np.arange(n), np.arange(n), row, row])
    columns = np.concatenate([np.zeros(n, int), 1 + recipes.base, 1 + n_base + place, 1 + n_base + n_flav + place])
    values = np.concatenate([np.ones(2 * n + len(row)), np.clip(more, -2.0, 2.0)])
    return sparse.csr_matrix((values, (rows, columns)), shape=(n, 1 + n_base + 2 * n_flav))


def _fit(
    shelf: Shelf,
    rules: Sequence[RuleLike],
    x: Any,
    recipes: Recipes,
    strength: Sequence[int],
    expected: Expected | None,
) -> _Fitted:
    force = np.asarray(strength, dtype=float)
    y = (force > 0).astype(np.float64)
    n_base, n_flav = len(shelf.bases), len(shelf.flavourings)
    prior = np.zeros(x.shape[1])
    prior[0] = logit((y.sum() + 0.5) / (len(y) + 1.0))
    own = slice(1 + n_base + 2 * n_flav)
    prior[own.stop :] = [rule.prior_mean for rule in rules]
    by_rule = [1.0 / rule.prior_sd**2 for rule in rules]
    spreads = [(np.append(precision, by_rule), usually) for precision, usually in _spreads(n_base, n_flav)]
    taken = [(prior, one, usually) for one, usually in spreads] if y.any() or expected is None else []
    usual = force.sum() / max(y.sum(), 1)
    if expected is not None:
        known, usual = np.isfinite(expected.mean), expected.strength
        # what others know of a note holds what covers it: a rule that said so again would count twice
        mean = np.append(np.where(known, expected.mean, prior[own]), np.zeros(len(rules)))
        for one, usually in spreads:
            precision = np.append(np.where(known, 1.0 / expected.variance, one[own]), by_rule)
            taken.append((mean, precision, usually + _HEARD))
    mean, cov = _averaged(x, y, taken)
    per_base = np.bincount(recipes.base, weights=force, minlength=n_base)
    found = np.bincount(recipes.base, weights=y, minlength=n_base)
    with np.errstate(invalid="ignore"):
        strengths = np.where(found > 0, per_base / np.maximum(found, 1), usual)
    return _Fitted(mean, cov, strengths, int(y.sum()))


def _spreads(n_base: int, n_flav: int) -> Iterator[tuple[Floats, float]]:
    """Yield the prior precision at every pair of spreads, and the log of how usual that pair is."""
    for base_sd, flav_sd in itertools.product(SPREADS, repeat=2):
        usually = -0.5 * (np.log(base_sd) ** 2 + np.log(flav_sd) ** 2) / _SPREAD_LOG_SD**2
        yield precision_of(n_base, n_flav, base_sd, flav_sd), float(usually)


def _averaged(x: Any, y: Floats, priors: Sequence[tuple[Floats, Floats, float]]) -> tuple[Floats, Floats]:
    """Return mean and covariance of the mixture over all priors, weighted by evidence and what is usual."""
    found, weight = [], []
    for mean, precision, usually in priors:
        *one, evidence = laplace(lambda w: log_odds_sums(x, y, w), mean, precision)
        found.append(one)
        weight.append(evidence + usually)
    share = softmax(weight)
    mean = np.asarray(sum(s * w for s, (w, _) in zip(share, found, strict=True)))
    cov = sum(s * (c + np.outer(w - mean, w - mean)) for s, (w, c) in zip(share, found, strict=True))
    return mean, np.asarray(cov)


def precision_of(n_base: int, n_flav: int, base_sd: float, flav_sd: float) -> Floats:
    """Prior precision of the columns of `design`."""
    sds = np.repeat([_INTERCEPT_SD, base_sd, flav_sd, _DOSE_SD], [1, n_base, n_flav, n_flav])
    return np.asarray(1.0 / sds**2)


def log_odds_sums(x: Any, y: Floats, weights: Floats) -> dict[str, Any]:
    """Return log-likelihood, its gradient, and the information of a logistic regression; those of two logs add up."""
    eta = np.asarray(x @ weights)
    p = expit(eta)
    information = (x.T @ x.multiply((p * (1.0 - p))[:, None])).toarray()
    value = float(y @ eta - np.logaddexp(0.0, eta).sum())
    return {"value": value, "gradient": np.asarray(x.T @ (y - p)), "information": information}


def laplace(
    sums: Callable[[Floats], Mapping[str, Any]], prior: Floats, precision: Floats
) -> tuple[Floats, Floats, float]:
    """Return mode, covariance there, and log evidence; Newton's steps are halved until they gain.

    ``sums`` answers as `log_odds_sums` does, of one log or of several in sum.
    """
    w, value = prior.copy(), -np.inf
    step = np.zeros_like(w)
    for _ in range(_STEPS):
        told = sums(w)
        now = float(told["value"] - 0.5 * precision @ (w - prior) ** 2)
        if now < value - 1e-12:
            step = step / 2.0
            w = w - step
            continue
        gradient = told["gradient"] - precision * (w - prior)
        hessian = told["information"] + np.diag(precision)
        if now - value < 1e-9:
            break
        value, step = now, np.linalg.solve(hessian, gradient)
        w = w + step
    sign, logdet = np.linalg.slogdet(hessian)
    evidence = value + 0.5 * float(np.log(precision).sum()) - 0.5 * float(sign * logdet)
    return w, np.linalg.inv(hessian), evidence
