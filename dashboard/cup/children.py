"""Children as tasters: faces instead of nine words, a fresh cup instead of a ladder, and few cups a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from pairing.safety.people import CUPS_OF_A_CHILD, tastes_as_child
from pairing.safety.today import midnight
from pairing.stock.lots import moment

if TYPE_CHECKING:
    from pairing_dashboard.cup.step import Step

__all__ = ["children", "faces", "had_enough"]

FACES: Mapping[int, str] = MappingProxyType(
    {1: "😖 Yuck", 3: "🙁 Not nice", 5: "😐 So so", 7: "🙂 Nice", 9: "😀 Yummy"}
)
"""Five faces along the nine-point scale (common practice, no source)."""
FEW_FACES: Mapping[int, str] = MappingProxyType({2: "🙁 Not nice", 5: "😐 So so", 8: "😀 Yummy"})
FEW_FACES_YEARS = 6.0
"""Below this three faces are told apart, not five (common practice, no source)."""


def children(step: Step, tasters: Iterable[str]) -> tuple[str, ...]:
    """Return who of the tasters is a child."""
    known = step.shelf.tasters
    return tuple(name for name in tasters if name in known and tastes_as_child(known[name]))


def faces(step: Step, taster: str) -> Mapping[int, str]:
    """Return the faces by which somebody judges, each with its liking; none where words are read."""
    if not children(step, [taster]):
        return {}
    return FEW_FACES if (step.shelf.tasters[taster].age_years or 0.0) < FEW_FACES_YEARS else FACES


def had_enough(step: Step, tasters: Iterable[str]) -> tuple[str, ...]:
    """Return the children that tasted as many flavoured cups today as are good for one."""
    if not (young := children(step, tasters)):
        return ()  # nobody goes through a whole log for nothing
    log, since = step.readings, moment(midnight())
    log = log[log["taster"].isin(young) & log["tasted_at"].notna() & log["flavouring_id"].notna()]
    today = log[log["tasted_at"].map(lambda at: moment(at) >= since).astype(bool)]  # of no row, too
    cups = today.groupby("taster")["trial_id"].nunique()
    return tuple(name for name in young if cups.get(name, 0) >= CUPS_OF_A_CHILD)
