"""Children as tasters: faces instead of nine words, a fresh cup instead of a ladder, and few cups a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from pairing.errors import LogError
from pairing.model.shelf import Shelf
from pairing.safety.people import CUPS_OF_A_CHILD, tastes_as_child
from pairing.safety.today import midnight
from pairing.stock.lots import moment

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.taster import Taster

__all__ = ["Face", "check_face", "children", "faces", "had_enough"]


class Face(NamedTuple):
    """A face that a child points at, and the word that goes with it."""

    sign: str
    word: str


_FACES: Mapping[int, Face] = MappingProxyType(
    {
        1: Face("😖", "yuck"),
        3: Face("🙁", "not nice"),
        5: Face("😐", "so so"),
        7: Face("🙂", "nice"),
        9: Face("😀", "yummy"),
    }
)
"""Five faces along the nine-point scale (common practice, no source)."""
_FEW_FACES: Mapping[int, Face] = MappingProxyType(
    {2: Face("🙁", "not nice"), 5: Face("😐", "so so"), 8: Face("😀", "yummy")}
)
_FEW_FACES_YEARS = 6.0
"""Below this three faces are told apart, not five (common practice, no source)."""


def children(tasters: Iterable[str], shelf: Shelf) -> tuple[str, ...]:
    """Return who of the tasters is a child."""
    return tuple(name for name in tasters if name in shelf.tasters and tastes_as_child(shelf.tasters[name]))


def faces(taster: Taster | None) -> Mapping[int, Face]:
    """Return the faces by which somebody judges, each by its liking; none where the nine words are read.

    Examples
    --------
    >>> from pairing.model.taster import Taster
    >>> [face.word for face in faces(Taster(taster="lo", age_years=4)).values()]
    ['not nice', 'so so', 'yummy']
    >>> len(faces(Taster(taster="ana")))
    0
    """
    if taster is None or not tastes_as_child(taster):
        return MappingProxyType({})
    return _FEW_FACES if (taster.age_years or 0.0) < _FEW_FACES_YEARS else _FACES


def check_face(said: str | float, taster: Taster) -> int:
    """Return the liking that a child's face stands for, from its word, its sign or that liking.

    Raises
    ------
    LogError
        When it is none of the faces.

    Examples
    --------
    >>> from pairing.model.taster import Taster
    >>> check_face("Yummy", Taster(taster="lo", age_years=4))
    8
    """
    known = faces(taster)
    for liking, face in known.items():
        if said == liking or str(said).strip().casefold() in face:
            return liking
    told = f"{said:g}" if isinstance(said, float) else repr(said)
    listed = ", ".join(f"{liking} {face.word}" for liking, face in known.items())
    message = f"liking {told} is none of the {len(known)} faces of {taster.taster} ({taster.age_years:g} years)"
    raise LogError(message, f"let the child point at one: {listed}")


def had_enough(readings: pd.DataFrame, tasters: Iterable[str], shelf: Shelf) -> tuple[str, ...]:
    """Return the children that tasted as many flavoured cups today as are good for one."""
    if not (young := children(tasters, shelf)):
        return ()  # nobody goes through a whole log for nothing
    log, since = readings, moment(midnight())
    log = log[log["taster"].isin(young) & log["tasted_at"].notna() & log["flavouring_id"].notna()]
    today = log[log["tasted_at"].map(lambda at: moment(at) >= since).astype(bool)]  # of no row, too
    cups = today.groupby("taster")["trial_id"].nunique()
    return tuple(name for name in young if cups.get(name, 0) >= CUPS_OF_A_CHILD)
