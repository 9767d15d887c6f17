"""How good the predictions are, on cups of the user's own log that the model did not see."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.errors import LogError, nearest
from pairing.host.fault import Fault
from pairing.host.guessing import guess
from pairing.learned.baselines import BASELINES, Rows
from pairing.learned.fit import fit
from pairing.learning.design import Who, additions_of
from pairing.learning.log import Log
from pairing.model.arrays import Ints
from pairing.model.constants import Z80

if TYPE_CHECKING:
    from pairing.api import Baseline, RuleLike
    from pairing.learned.learned import Learned

__all__ = ["SPLITS", "Evaluation", "evaluate"]

FOLDS = 6
"""Parts into which cups are divided; the first third of a log is only learned from (our choice)."""
_HELD = {"new combinations": "combination of base and flavourings", "new base": "base", "new taster": "taster"}
LEAST_CUPS = 12
"""Fewer liked cups than this say nothing about how good a model is (our choice)."""
SPLITS = {
    "later cups": "learned from the earlier cups, asked about the later ones",
    "new combinations": "asked about combinations of base and flavourings that it never saw",
    "new base": "asked about a base that it never saw",
    "new taster": "asked about a person that it never saw",
}


ALONE = "own cups alone"
"""Column of what would be predicted without the prior from other kitchens."""


@dataclass(frozen=True)
class Evaluation:
    """Errors on held-out cups.

    Attributes
    ----------
    table : DataFrame
        One row per way of holding out and group of cups: ``split, chosen_by, cups, model`` and each baseline (root
        mean squared error, points), ``coverage`` (of 80 % intervals for single scores), ``gain`` (the average's squared
        error less the model's) and ``gain_sd``, its standard error.
    doses : DataFrame
        ``split, additions, model, label``: root mean squared log distance between the predicted dose and doses that
        read 'just right'.
    calibration : DataFrame
        ``predicted, observed, cups``: mean predicted and mean given liking in groups of rising prediction.
    predictions : DataFrame
        One row per held-out score.
    sentences : tuple of str
        The same in plain words.
    faults : tuple of Fault
        Of the plugins' guesses; where one failed it has NaN.
    """

    table: pd.DataFrame
    doses: pd.DataFrame
    calibration: pd.DataFrame
    predictions: pd.DataFrame
    sentences: tuple[str, ...]
    faults: tuple[Fault, ...] = ()


def evaluate(
    model: Learned,
    splits: Iterable[str] | None = None,
    *,
    without: Sequence[str] = (),
    baselines: Sequence[Baseline] = (),
    progress: Callable[[float], object] | None = None,
) -> Evaluation:
    """Hold cups out, learn from the rest, and compare what is predicted with what was said.

    Parameters
    ----------
    model : Learned
    splits : iterable of str, optional
        Names out of ``SPLITS``; None: all that the log allows.
    without : sequence of str
        Ids of rules to leave out.
    baselines : sequence of Baseline
        Guesses of plugins, put beside the tool's own.
    progress : callable, optional
        Told the share that is done.

    Raises
    ------
    LogError
        When there are too few liked cups, when a split or rule is not known, or a split that was named holds out all.
    """
    rules = _rules(model, without)
    log = model.log
    liked = np.flatnonzero(~np.isnan(log.liking))
    if len(liked) < LEAST_CUPS:
        raise LogError(
            f"{len(liked)} cups have a liking, {LEAST_CUPS} are needed to judge the model",
            "log more cups with a liking",
        )
    folds = {name: list(_folds(log, liked, name)) for name in _wanted(splits)}
    if splits is not None:
        _refuse_empty(folds)
    plan = [(name, *fold) for name, some in folds.items() for fold in some]
    rows, right = [], []
    faults: dict[str, Fault] = {}
    for done, (name, held, hidden) in enumerate(plan):
        fold = _Fold(model, held, hidden, name, rules, baselines)
        rows.append(fold.likings())
        right.append(fold.doses())
        faults.update((fault.key, fault) for fault in fold.faults)
        if progress is not None:
            progress((done + 1) / len(plan))
    predictions = pd.concat(rows, ignore_index=True)
    own = [] if model.prior is None else [ALONE]
    table = pd.DataFrame(list(_summaries(predictions, [*BASELINES, *own, *(b.id for b in baselines)])))
    doses = pd.DataFrame(list(_dose_summaries(pd.concat(right, ignore_index=True))))
    return Evaluation(
        table, doses, _calibration(predictions), predictions, tuple(_sentences(table, doses)), tuple(faults.values())
    )


def _rules(model: Learned, without: Sequence[str]) -> tuple[RuleLike, ...]:
    known = [r.id for r in model.rules]
    for name in without:
        if name not in known:
            raise LogError(f"no rule {name!r}", nearest(name, known))
    return tuple(r for r in model.rules if r.id not in without)


def _wanted(splits: Iterable[str] | None) -> list[str]:
    names = list(SPLITS if splits is None else splits)
    if not names:
        raise LogError("no way of holding out is named", f"name one of: {', '.join(SPLITS)}")
    for name in names:
        if name not in SPLITS:
            raise LogError(f"no way of holding out is called {name!r}", nearest(name, SPLITS))
    return names


def _refuse_empty(folds: Mapping[str, Sequence[Any]]) -> None:
    """Refuse a way of holding out that was asked for and would leave nothing to learn from."""
    for name, some in folds.items():
        if not some:
            what = _HELD[name]
            raise LogError(
                f"{name!r} cannot be held out: all liked cups are of 1 {what}, 2 are needed",
                f"log liked cups of another {what}, or hold out later cups",
            )


def _folds(log: Log, liked: Ints, split: str) -> Iterator[tuple[Ints, Any]]:
    """Liked readings held out together, and all readings that must then be hidden, per fold."""
    if split == "later cups":
        by_time = liked[np.argsort(log.order[liked], kind="stable")]
        for held in np.array_split(by_time, FOLDS)[FOLDS // 3 :]:
            yield held, log.order >= log.order[held].min()
        return
    group = _groups(log, liked, split)
    found = np.unique(group[liked])
    if len(found) > 1:
        for g in found:
            yield liked[group[liked] == g], group == g


def _groups(log: Log, liked: Ints, split: str) -> Ints:
    """Give the number of what is held out together, for every reading; -1 for a combination that nobody has liked."""
    if split != "new combinations":
        return log.recipes.base if split == "new base" else log.taster
    slots = np.sort(log.recipes.flavouring, axis=1).tolist()
    key = [(b, *row) for b, row in zip(log.recipes.base.tolist(), slots, strict=True)]
    number = {k: n % FOLDS for n, k in enumerate(dict.fromkeys(key[i] for i in liked))}
    return np.array([number.get(k, -1) for k in key])


class _Fold:
    """One fit without some cups, and what it says of them."""

    def __init__(
        self,
        model: Learned,
        held: Ints,
        hidden: Any,
        split: str,
        rules: tuple[RuleLike, ...],
        baselines: Sequence[Baseline],
    ) -> None:
        self.baselines, self.faults = baselines, list[Fault]()
        self.log, self.held, self.split = model.log, held, split
        self.train = np.flatnonzero(~(hidden | np.isin(self.log.cup, self.log.cup[held])))
        train = self.log.take(self.train)
        self.learned = fit(model.shelf, train, rules=rules, prior=model.prior, public_ids=model.public_ids)
        self.alone = None if model.prior is None else fit(model.shelf, train, rules=rules)

    def likings(self) -> pd.DataFrame:
        """Predicted and given likings of the cups left out."""
        log, held = self.log, self.held
        n_tasters = len(log.tasters)
        taster = np.full(len(held), n_tasters) if self.split == "new taster" else log.taster[held]
        encoded = self.learned.liking.encode(log.recipes.take(held), Who(taster, n_tasters))
        mean, sd, _, _ = self.learned.response.on_scale(encoded)
        spread = np.hypot(sd, self.learned.response.noise_sd)
        given = log.liking[held]
        known = self.train[~np.isnan(log.liking[self.train])]
        frame = {
            "split": self.split,
            "trial_id": [log.trials[c] for c in log.cup[held]],
            "chosen_by": [c or "not said" for c in log.chosen_by[held]],
            "given": given,
            "model": mean,
            "inside": np.abs(given - mean) <= Z80 * spread,
        }
        if self.alone is not None:
            encoded = self.alone.liking.encode(log.recipes.take(held), Who(taster, n_tasters))
            frame[ALONE] = self.alone.response.on_scale(encoded)[0]
        train, asked = Rows.of(log, known), Rows.of(log, held)
        for name, baseline in BASELINES.items():
            frame[name] = baseline(train, asked) if len(known) else np.full(len(held), 5.0)
        for theirs in self.baselines:
            shelf = self.learned.shelf
            told = asked.scores(shelf)
            frame[theirs.id], fault = guess(
                theirs, train.scores(shelf), replace(told, liking=np.full(len(held), np.nan))
            )
            self.faults += [fault] if fault else []
        return pd.DataFrame(frame)

    def doses(self) -> pd.DataFrame:
        """Log distance of the predicted dose and the label's from doses that read 'just right' in these cups."""
        cups = np.flatnonzero(np.isin(self.log.cup, self.log.cup[self.held]))
        recipes = self.log.recipes.take(cups)
        who = Who(self.log.taster[cups], len(self.log.tasters))
        needed, _ = self.learned.strength.needed(recipes, who)
        adds = additions_of(recipes)
        right = self.log.strength[cups][adds.row, adds.slot] == 3
        row, slot = adds.row[right], adds.slot[right]
        dose = recipes.log_dose[row, slot]
        label = self.learned.strength.log_label(adds.base[right], adds.flavouring[right])
        return pd.DataFrame({"split": self.split, "model": dose - needed[row, slot], "label": dose - label})


def _summaries(predictions: pd.DataFrame, baselines: Sequence[str]) -> Iterator[dict[str, Any]]:
    for split, part in predictions.groupby("split", sort=False):
        groups = list(part.groupby("chosen_by", sort=True))
        for who, rows in [("all", part), *(groups if len(groups) > 1 else [])]:
            error = {name: rows[name] - rows["given"] for name in ("model", *baselines)}
            gain = error["average"] ** 2 - error["model"] ** 2
            yield {
                "split": split,
                "chosen_by": who,
                "cups": int(rows["trial_id"].nunique()),
                **{name: float(np.sqrt((e**2).mean())) for name, e in error.items()},
                "coverage": float(rows["inside"].mean()),
                "gain": float(gain.mean()),
                "gain_sd": float(gain.std() / np.sqrt(max(len(rows) - 1, 1))),
            }


def _dose_summaries(doses: pd.DataFrame) -> Iterator[dict[str, Any]]:
    for split, part in doses.groupby("split", sort=False):
        yield {
            "split": split,
            "additions": len(part),
            "model": float(np.sqrt((part["model"] ** 2).mean())),
            "label": float(np.sqrt((part["label"] ** 2).mean())),
        }


def _calibration(predictions: pd.DataFrame) -> pd.DataFrame:
    rows = predictions.sort_values("model", kind="stable")
    size = max(min(8, len(rows) // 6), 1)
    groups = np.array_split(np.arange(len(rows)), size)
    return pd.DataFrame(
        {
            "predicted": [float(rows["model"].iloc[g].mean()) for g in groups],
            "observed": [float(rows["given"].iloc[g].mean()) for g in groups],
            "cups": [len(g) for g in groups],
        }
    )


def _sentences(table: pd.DataFrame, doses: pd.DataFrame) -> Iterator[str]:
    """Say the verdict of each way of holding out, then what became of doses; groups of cups stand in the table only."""
    for row in table[table["chosen_by"] == "all"].to_dict("records"):
        text = (
            f"{str(row['split']).capitalize()}: off by {row['model']:.1f} points where guessing the average is off by "
            f"{row['average']:.1f}, on {row['cups']} held-out cups"
        )
        if row["gain"] <= 0:
            text += ": no better than the average"
        elif row["gain"] <= row["gain_sd"]:
            text += ": no better than the average as far as so few can tell"
        yield text + "."
        if ALONE in row:
            yield (
                f"Without what other kitchens know it would be off by {row[ALONE]:.1f} points "
                f"({row[ALONE]:.2f}, with it {row['model']:.2f})."
            )
    for row in doses.to_dict("records"):
        if row["additions"]:
            yield (
                f"{str(row['split']).capitalize()}: {row['additions']} doses that read 'just right' were off the "
                f"predicted dose by {_percent(row['model'])}, off the label by {_percent(row['label'])}."
            )


def _percent(log_error: float) -> str:
    return f"{100 * np.expm1(log_error):.0f} %"
