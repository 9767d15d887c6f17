"""Saying that something should rest for a while."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from pairing.quantities.readable import between

if TYPE_CHECKING:
    from pairing.learned.rotation import Falling

__all__ = ["rotate"]


def rotate(found: Sequence[Falling], names: Mapping[str, str]) -> str | None:
    """Propose a rest for the recipe that falls fastest, and how sure that is; None where none is found.

    Examples
    --------
    >>> from pairing.learned.rotation import Falling
    >>> one = Falling(base_id="oat", flavouring_ids=("plum",), cups=7, weeks=6.2, points_per_week=-0.31, low=-0.45,
    ...               high=-0.17, p_falling=0.998)
    >>> print(rotate([one], {"oat": "Oat drink", "plum": "Plum"}))
    Rotate: Plum in Oat drink is liked 0.31 points less each week (0.17–0.45, 80 %), in 7 cups over 6 weeks; 99% sure \
that it falls. Pour something else for some weeks, then taste it again.
    """
    if not found:
        return None
    one = found[0]
    what = " + ".join(names.get(i, i) for i in one.flavouring_ids)
    span = between(-one.high, -one.low, ".2f")
    return (
        f"Rotate: {what} in {names.get(one.base_id, one.base_id)} is liked {-one.points_per_week:.2f} points less each "
        f"week ({span}, 80 %), in {one.cups} cups over {one.weeks:.0f} weeks; {min(one.p_falling, 0.99):.0%} sure that "
        "it falls. Pour something else for some weeks, then taste it again."
    )
