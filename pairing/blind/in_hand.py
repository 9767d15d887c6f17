"""Which blind checks are in hand: drafts of the bench, each named by its check."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["DRAFTS", "FINISHED", "cups_in_hand", "open_checks"]

DRAFTS = "blind-check:"
"""Drafts of the bench whose id starts like this are checks in hand."""
FINISHED = "blind-finished:"
"""Drafts whose id starts like this keep how a finished check was planned, which its comparisons do not tell."""


def cups_in_hand(bench: Bench) -> int:
    """Count the drafts that are cups."""
    return sum(not str(draft["draft_id"]).startswith((DRAFTS, FINISHED)) for draft in bench.list_drafts())


def open_checks(bench: Bench) -> tuple[str, ...]:
    """Return the ids of the checks in hand, last answered first."""
    drafts = (str(draft["draft_id"]) for draft in bench.list_drafts())
    return tuple(name.removeprefix(DRAFTS) for name in drafts if name.startswith(DRAFTS))
