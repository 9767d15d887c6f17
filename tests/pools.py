"""Simulated kitchens that share part of what makes a cup liked, and pools of their logs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from simulated import Palate, make_palate


def kitchens(shared: float, seed: int = 1000, n_bases: int = 6, n_flavourings: int = 24) -> Callable[[int], Palate]:
    """Return what makes a kitchen of a number; of the variance of its truth so much is common to all.

    All have one shelf. ``shared`` is 0 … 1; the common part is the palate of ``seed``.
    """
    common = make_palate(seed, n_bases, n_flavourings)
    a, b = np.sqrt(shared), np.sqrt(1.0 - shared)

    def mixed(own: Palate, name: str, centre: object = 0.0) -> list:
        of_all, of_one = (np.array(getattr(p, name)) for p in (common, own))
        return (centre + a * (of_all - centre) + b * (of_one - centre)).tolist()

    def label(p: Palate) -> np.ndarray:
        return np.log(p.flavourings_df["label_dose_g_per_kg"].to_numpy())[None, :]

    def kitchen(number: int) -> Palate:
        own = make_palate(number, n_bases, n_flavourings)
        off = a * (np.array(common.log_dose) - label(common)) + b * (np.array(own.log_dose) - label(own))
        return replace(
            common,
            seed=number,
            log_dose=(label(common) + off).tolist(),
            base=mixed(own, "base"),
            flavouring=mixed(own, "flavouring"),
            affinity=mixed(own, "affinity"),
            pair=mixed(own, "pair", -0.55),
            pair_base=mixed(own, "pair_base"),
        )

    return kitchen


def write_pool(
    to: Path, kitchen: Callable[[int], Palate], n: int, trials: int = 60, change: Callable | None = None
) -> list[pd.DataFrame]:
    """Write the logs of n kitchens as a pool and return them; ``change(log, number)`` may alter each."""
    first = kitchen(2000)
    to.mkdir(parents=True, exist_ok=True)
    first.bases_df.to_parquet(to / "bases.parquet")
    first.flavourings_df.to_parquet(to / "flavourings.parquet")
    logs = []
    for number in range(n):
        log = kitchen(2000 + number).log(trials, np.random.default_rng([5, number]))
        log = log if change is None else change(log, number)
        folder = to / f"kitchen=k{number:03d}"
        folder.mkdir(exist_ok=True)
        log.to_parquet(folder / "part-0.parquet")
        logs.append(log)
    return logs
