"""Seeds: the same seed gives the same choices."""

from __future__ import annotations

from typing import Any

from pairing.errors import TableError

__all__ = ["generator"]


def generator(random_state: Any) -> Any:
    """Return a ``numpy.random.Generator`` of a seed; None is another one every time.

    Raises
    ------
    TableError
        When the seed is neither a whole number of 0 or more, nor a Generator, nor None.

    Examples
    --------
    >>> int(generator(0).integers(10)) == int(generator(0).integers(10))
    True
    """
    import numpy as np

    try:
        return np.random.default_rng(random_state)
    except (TypeError, ValueError):
        raise TableError(f"random_state is {random_state!r}", "give a whole number of 0 or more, or None") from None
