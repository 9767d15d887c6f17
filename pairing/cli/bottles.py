"""Which bottle a cup was poured from: asked before the cup is kept, where it is not known."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from pairing.errors import LogError, TableError, UnknownIdError, nearest

if TYPE_CHECKING:
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf
    from pairing.stock.reckon import Held

__all__ = ["check_lots"]


def check_lots(cup: Cup, shelf: Shelf, lots: Callable[[], tuple[Held, ...]], whichever: bool) -> None:
    """Ask which lot it was where several are open and none was named yet; refuse one that was never entered.

    Parameters
    ----------
    cup : Cup
    shelf : Shelf
    lots : callable
        Gives the lots; asked only where there is a doubt.
    whichever : bool
        Whether a cup may leave open which it was.

    Raises
    ------
    LogError, UnknownIdError
    """
    from pairing.stock.reckon import lot_meant

    taken = {s.item_id: s.lot for s in cup.steps if s.kind in ("pour", "add") and s.item_id in shelf.held_g}
    doubtful = {item: lot for item, lot in taken.items() if lot is not None or item not in shelf.lot_in_use}
    held = lots() if doubtful else ()
    for item, lot in doubtful.items():
        own = [one.lot for one in held if one.lot.item_id == item]
        if lot is not None and lot not in (names := [one.lot for one in own]):
            raise UnknownIdError(f"no lot {lot!r} of {item}", nearest(lot, names))
        if lot is None and item is not None and not whichever and sum(one.emptied_at is None for one in own) > 1:
            try:
                lot_meant(item, held)
            except TableError as error:
                hint = f"say it once, as --lot {item}=LOT: that one is in use from then on; or --yes, to leave it open"
                raise LogError(error.message, hint) from None
