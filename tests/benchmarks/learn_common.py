"""What the learning benchmarks share: processor time, and a factorisation machine to compare with if installed."""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # processor time then means work, not waiting threads

import resource
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy import sparse

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

Z80 = 1.2815515655446004


@dataclass
class Clock:
    """Seconds of a stretch of work."""

    wall: float = 0.0
    cpu: float = 0.0


@contextmanager
def timed() -> Iterator[Clock]:
    """Measure wall and processor time of what is done inside."""
    clock, wall, cpu = Clock(), time.perf_counter(), time.process_time()
    yield clock
    clock.wall, clock.cpu = time.perf_counter() - wall, time.process_time() - cpu


def peak_gb() -> float:
    """Most memory that this process ever held, GB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9


def one_hot(*columns: tuple[Any, int]) -> sparse.csr_matrix:
    """Dummy columns side by side; a column of shape (n, k) is several items at once, -1 for none."""
    parts = []
    for values, size in columns:
        item = np.asarray(values).reshape(len(values), -1)
        row, slot = np.nonzero(item >= 0)
        parts.append(sparse.csr_matrix((np.ones(len(row)), (row, item[row, slot])), (len(item), size)))
    return sparse.hstack(parts, format="csr")


def machine() -> Any:
    """Return the factorisation machine's module, None where it is not installed (`pip install '.[bench]'`)."""
    try:
        import myfm
    except ImportError:
        return None
    return myfm


def factorisation_machine(
    train: Any, y: Any, test: Any, groups: list[int], *, rank: int = 8, n_iter: int = 200
) -> np.ndarray:
    """Fit the Bayesian factorisation machine by Gibbs sampling and predict."""
    model = machine().MyFMRegressor(rank=rank, random_seed=0)
    model.fit(train, y, n_iter=n_iter, n_kept_samples=n_iter - n_iter // 10, group_shapes=groups)
    return np.asarray(model.predict(test))


def rmse(error: Any) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(error))))
