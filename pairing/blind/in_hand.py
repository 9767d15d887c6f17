"""Which blind checks are in hand: drafts of the bench, each named by its check."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["DRAFTS", "open_checks"]

DRAFTS = "blind-check:"
"""Drafts of the bench whose id starts like this are checks in hand."""


def open_checks(bench: Bench) -> tuple[str, ...]:
    """Return the ids of the checks in hand, last answered first."""
    drafts = (str(draft["draft_id"]) for draft in bench.list_drafts())
    return tuple(name.removeprefix(DRAFTS) for name in drafts if name.startswith(DRAFTS))
