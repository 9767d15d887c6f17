"""Scoring rules as columns: each brings a feature and a prior for its weight, which the log then corrects."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.host.fault import Fault
from pairing.host.scoring import features, width
from pairing.host.tables import addition_table_of, recipe_table_of
from pairing.learning.block import Block, Entries
from pairing.model.arrays import Floats, Ints
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.quantities.constants import MAX_DOSE_G_PER_KG

if TYPE_CHECKING:
    from pairing.api import RuleLike

__all__ = ["NO_RULES", "RuleColumns", "parts_of", "rule_block"]

Needed = Callable[[Recipes], tuple[Floats, Floats]]
"""Mean and sd of the log needed dose of every slot."""


def _column(rule: RuleLike) -> str | None:
    """Name of the column that a rule's prior informs, None where it brings its own; not every rule has the field."""
    return getattr(rule, "column", None) or None


def parts_of(rule: RuleLike) -> tuple[float | str, ...]:
    """Return what the several features of a rule are called; empty for a rule with one."""
    return tuple(getattr(rule, "parts", ()))


def rule_block(rule: RuleLike) -> str:
    """Name of the block that holds a rule's weight."""
    return _column(rule) or f"rule:{rule.id}"


@dataclass(frozen=True, eq=False)
class RuleColumns:
    """The rules in force, for one shelf.

    Attributes
    ----------
    faults : dict
        What was wrong with rules so far, by its key; kept for whoever shows the answer.
    """

    shelf: Shelf
    rules: tuple[RuleLike, ...]
    faults: dict[str, Fault]

    @classmethod
    def of(cls, shelf: Shelf, rules: Sequence[RuleLike]) -> RuleColumns:
        """Make it."""
        return cls(shelf, tuple(rules), {})

    def acting_on(self, what: str) -> list[RuleLike]:
        """Rules that act on ``liking``, ``dose``, ``off-note`` or ``caution``."""
        return [r for r in self.rules if r.acts_on == what]

    def dose_blocks(self, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
        """Blocks of the needed dose with the rules' priors in them."""
        return _with(blocks, self.acting_on("dose"))

    def liking_blocks(self, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
        """Blocks of liking with the rules' priors in them."""
        return _with(blocks, self.acting_on("liking"))

    def dose_entries(self, recipes: Recipes, keep: Ints | None = None) -> dict[str, Entries]:
        """Entries per addition of the recipes, or of some of the additions."""
        rules = [r for r in self.acting_on("dose") if _column(r) is None]
        if not rules:
            return {}
        table = addition_table_of(self.shelf, recipes)
        matrix = self._features(rules, table)
        return _entries(rules, matrix if keep is None else matrix[keep])

    def liking_entries(self, recipes: Recipes, needed: Needed) -> dict[str, Entries]:
        """Entries per recipe; an open dose counts as needed."""
        rules = [r for r in self.acting_on("liking") if _column(r) is None]
        if not rules:
            return {}
        log_dose = recipes.log_dose
        if (np.isnan(log_dose) & recipes.present).any():
            log_dose = np.where(np.isnan(log_dose), needed(recipes)[0], log_dose)
        dosed = recipes.at_doses(np.minimum(np.exp(log_dose), MAX_DOSE_G_PER_KG))
        table = recipe_table_of(self.shelf, dosed)
        return _entries(rules, self._features(rules, table))

    def on_note(self, off_note: str) -> list[RuleLike]:
        """Rules on an off-note; those on it in general are meant after the swallow, too."""
        meant = (off_note, off_note.partition("@")[0])
        return [r for r in self.acting_on("off-note") if getattr(r, "note", "") in meant]

    def note_features(self, note: str, dosed: Recipes) -> Floats:
        """Features of the rules on an off-note, a column for each, of recipes whose doses are all known."""
        rules = self.on_note(note)
        return self._features(rules, recipe_table_of(self.shelf, dosed)) if rules else np.zeros((len(dosed), 0))

    def _features(self, rules: list[RuleLike], table: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
        matrix, faults = features(rules, table)
        self.note(faults)
        return matrix

    def note(self, faults: Iterable[Fault]) -> None:
        """Keep what was wrong with rules."""
        for fault in faults:
            self.faults.setdefault(fault.key, fault)


NO_RULES = RuleColumns.of(Shelf.of([], []), ())


def _with(blocks: tuple[Block, ...], rules: list[RuleLike]) -> tuple[Block, ...]:
    informed = {_column(r): r for r in rules}
    kept = tuple(
        replace(b, mean=informed[b.name].prior_mean, var=informed[b.name].prior_sd ** 2) if b.name in informed else b
        for b in blocks
    )
    own = (
        Block(rule_block(r), "rule", r.prior_sd**2, mean=r.prior_mean, fixed=True) for r in rules if _column(r) is None
    )
    return kept + tuple(own)


def _entries(rules: list[RuleLike], matrix: np.ndarray[Any, np.dtype[np.float64]]) -> dict[str, Entries]:
    out, start = {}, 0
    for rule in rules:
        mine = matrix[:, start : (start := start + width(rule))]
        rows, parts = np.nonzero(mine)
        if len(rows):
            out[rule_block(rule)] = Entries.of(rows, parts, mine[rows, parts])
    return out
