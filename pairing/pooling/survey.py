"""The first pass over a pool: what there is, in counts that add up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.learning.block import Block, Entries
from pairing.learning.columns import MANY_KEYS, Columns, Counts
from pairing.learning.design import Traits
from pairing.learning.liking import NOISE_COUNT, NOISE_VAR
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scene import Typical
from pairing.learning.some_rows import MANY_CUPS, cut_off, highest_places
from pairing.learning.strength import MANY_JUDGED
from pairing.learning.tally import Tally
from pairing.model.arrays import Floats, Ints
from pairing.pooling.compared import Asked
from pairing.pooling.doses import asked_additions, plan_of
from pairing.pooling.entries import Made, Plan, dose_blocks, judged_entries, liking_blocks, scored_entries
from pairing.pooling.folder import LogPart

__all__ = ["Behind", "Planned", "Survey", "survey"]

STANDING = frozenset({"base", "flavouring", "family", "affinity", "base*family", "pair", "family*family", "masking"})
"""Blocks of which a prior tells, so that it is counted who stands behind each key."""


@dataclass(frozen=True, eq=False)
class Behind(Counts):
    """Counts, and who is behind them.

    Attributes
    ----------
    kitchens : int array, shape (n,)
        Kitchens in which the key occurs.
    most : int array, shape (n,)
        Entries of the kitchen that has most of them.
    """

    kitchens: Ints
    most: Ints

    @classmethod
    def among(cls, found: Entries, kitchen: Ints) -> Behind:
        """Count the entries of some kitchens."""
        n = int(kitchen.max(initial=0)) + 1
        both, count = np.unique(found.key * n + kitchen[found.row], return_counts=True)
        key, start = np.unique(both // n, return_index=True)
        plain = Counts.of(found)
        ends = np.r_[start[1:], len(both)]
        return cls(key, plain.count, plain.scale, ends - start, np.maximum.reduceat(count, start))

    def __add__(self, other: Counts) -> Behind:
        """Return the counts of both; no kitchen is in both."""
        assert isinstance(other, Behind)
        key, first, place = np.unique(np.append(self.key, other.key), return_index=True, return_inverse=True)
        n = len(key)
        count, kitchens = (
            np.bincount(place, np.append(getattr(self, name), getattr(other, name)), minlength=n).astype(np.int64)
            for name in ("count", "kitchens")
        )
        most = np.zeros(n, np.int64)
        np.maximum.at(most, place, np.append(self.most, other.most))
        return Behind(key, count, np.append(self.scale, other.scale)[first], kitchens, most)


@dataclass(frozen=True, eq=False)
class Sizes:
    """Entries and distinct keys of a kitchen's own block."""

    n: int
    distinct: int

    def __add__(self, other: Sizes) -> Sizes:
        """Return both."""
        return Sizes(self.n + other.n, self.distinct + other.distinct)


@dataclass(frozen=True)
class Days:
    """First and last day that is told; empty where none is."""

    since: str
    until: str

    def __add__(self, other: Days) -> Days:
        """Return the span of both."""
        return Days(min(filter(None, (self.since, other.since)), default=""), max(self.until, other.until))


def survey(part: LogPart, traits: Traits, rules: RuleColumns = NO_RULES) -> dict[str, Any]:
    """Count what a part holds."""
    log = part.log
    scored = np.flatnonzero(~np.isnan(log.liking))
    cups, doses, adds, keep = Asked.of(part, scored, "prefer"), *asked_additions(part)
    judged = adds.row[adds.row < len(log)]
    made = {
        "liking": scored_entries(part, cups, liking_blocks(traits, rules), rules, traits, Typical()),
        "dose": judged_entries(part, doses, adds, keep, dose_blocks(traits, rules), rules, traits, Typical()),
    }
    found: dict[str, Any] = {
        "scores": len(scored),
        "judged": len(judged),
        "preferred": len(cups.share),
        "stronger": len(doses.share),
        "faults": tuple(rules.faults.values()),
        "cups": len(np.unique(log.cup)),
        "kitchens": len(np.unique(part.kitchen)),
        "tasters": len(np.unique(log.taster)),
        "readings": len(log),
        "noted": sum(isinstance(text, str) for text in log.off_notes),
        "highest": _places(log.recipes.take(scored), traits),
        "highest judged": _places(log.recipes.take(judged), traits),
        "damaged": part.damaged,
        "days": Days(part.since, part.until),
        "tally": Tally.of(log, traits.n_flavourings),
    }
    found |= Typical.told(log)
    for what, entries in made.items():
        found |= {f"{what}/{name}": _counted(name, e, entries) for name, e in entries.shared.items()}
        found |= {f"{what} own/{name}": Sizes(len(e.key), len(np.unique(e.key))) for name, e in entries.own.items()}
    return found


def _places(recipes: Any, traits: Traits) -> Ints:
    return np.bincount(highest_places(recipes, traits.n_flavourings) + 1, minlength=traits.n_flavourings + 1)


def _counted(name: str, found: Entries, made: Made) -> Counts:
    return Behind.among(found, made.kitchen) if name in STANDING else Counts.of(found)


@dataclass(frozen=True, eq=False)
class Planned:
    """What follows from a survey for liking, or for the needed dose.

    Attributes
    ----------
    plan : Plan
    mean : array
        Prior means of the shared columns.
    start : array
        Log variances to start from.
    cut : (int, int) or None
        Cups that variances are learned from; None: all.
    """

    plan: Plan
    mean: Floats
    start: Floats
    cut: tuple[int, int] | None


@dataclass(frozen=True)
class Survey:
    """What a pool holds, by the names that `survey` gives."""

    found: Mapping[str, Any]

    def counts(self, what: str) -> dict[str, Counts]:
        """Return the counts of shared keys, of ``liking`` or of the ``dose``, by block."""
        return {name.partition("/")[2]: c for name, c in self.found.items() if name.startswith(f"{what}/")}

    def own(self, what: str) -> dict[str, Sizes]:
        """Return the sizes of what is the kitchens' own, by block."""
        return {name.partition("/")[2]: c for name, c in self.found.items() if name.startswith(f"{what} own/")}

    def released(self) -> Survey:
        """Return what is still asked once all is planned: the counts of the largest blocks are not."""
        planned = {f"{what}/{name}" for what in ("liking", "dose") for name in self.counts(what)}
        return Survey({k: v for k, v in self.found.items() if k not in planned or isinstance(v, Behind)})

    @property
    def typical(self) -> Typical:
        """The middle of what is known of the occasions."""
        return Typical.of(dict(self.found))

    def liking(self, traits: Traits, rules: RuleColumns = NO_RULES, *, penalty: bool) -> Planned:
        """Plan the learning of liking."""
        counts = self.counts("liking")
        if penalty:
            counts |= dict.fromkeys(
                ("too weak", "too strong"), Counts(np.zeros(1, np.int64), np.ones(1, int), np.ones(1))
            )
        cut = cut_off(self.found["highest"], MANY_CUPS) if self.found["scores"] > MANY_CUPS else None
        return self._planned(
            traits, liking_blocks(traits, rules), rules, counts, "liking", (NOISE_COUNT, NOISE_VAR), cut
        )

    def doses(self, traits: Traits, rules: RuleColumns = NO_RULES) -> Planned:
        """Plan the learning of needed doses."""
        n = self.found["judged"]
        cut = cut_off(self.found["highest judged"], MANY_JUDGED) if n > 2 * MANY_JUDGED else None
        return self._planned(traits, dose_blocks(traits, rules), rules, self.counts("dose"), "dose", (0.0, 1.0), cut)

    def _planned(
        self,
        traits: Traits,
        blocks: tuple[Block, ...],
        rules: RuleColumns,
        counts: dict[str, Counts],
        what: str,
        noise: tuple[float, float],
        cut: Any,
    ) -> Planned:
        columns = Columns.counted(blocks, counts)
        own = self.own(what)
        thin = {b.name for b in blocks if b.cells and b.name in own and _thin(own[b.name])}
        nothing = np.empty(0, np.int64)
        keys, scales, start = dict(columns.keys), dict(columns.scales), dict(columns.start)
        for block in blocks:
            if block.local and block.name in own and own[block.name].distinct >= block.least:
                keys[block.name], scales[block.name], start[block.name] = nothing, np.empty(0), columns.n
        whole = Columns(blocks, keys, scales, start, columns.n)
        return Planned(*plan_of(blocks, whole, frozenset(thin), noise, traits, rules), cut)


def _thin(size: Sizes) -> bool:
    """Tell whether nearly every own cell was seen once, as `thinned` does of shared ones."""
    return MANY_KEYS < size.n < 1.5 * size.distinct
