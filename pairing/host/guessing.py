"""Asking plugins for guesses of liking, to put beside the model's."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.api import Baseline, Scores
from pairing.errors import PluginError
from pairing.host.fault import Fault
from pairing.host.guard import attempt
from pairing.model.constants import LIKING_ENDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["guess"]


def guess(baseline: Baseline, known: Scores, asked: Scores) -> tuple[NDArray[np.float64], Fault | None]:
    """Return what a baseline guesses, held to the scale from 1 to 9; NaN after a fault."""
    found, fault = attempt(
        partial(_guessed, baseline, known, asked),
        plugin=baseline.id.partition(":")[0],
        stage="guess",
        hook="pairing_baselines",
        subject=baseline.id,
        defined=baseline.guess,
    )
    return (np.full(len(asked.table), np.nan) if found is None else np.clip(found, *LIKING_ENDS)), fault


def _guessed(baseline: Baseline, known: Scores, asked: Scores) -> NDArray[np.float64]:
    found: Any = np.asarray(baseline.guess(known, asked))
    n = len(asked.table)
    if found.dtype.kind not in "iuf" or found.shape != (n,) or not np.isfinite(found).all():
        told = f"guess returned {found.dtype} of shape {found.shape}, {n} finite numbers are needed"
        raise PluginError(told, "return one liking per row that is asked, where nothing is known the average")
    return np.asarray(found, dtype=np.float64)
