"""What a bench does with bottles and bags: what is left, what to buy, weighing, and sets of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError, UnknownIdError, nearest
from pairing.model.fields import clean_id
from pairing.model.kept_recipe import recipes_meant
from pairing.stock.reckon import lot_meant
from pairing.stock.shopping import shopping_list
from pairing.stock.table import stock_table
from pairing.store import state
from pairing.store.stocked import buy, lots_held, weigh

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf
    from pairing.stock.lots import Lot
    from pairing.stock.reckon import Held
    from pairing.stock.shopping import Need

__all__ = ["Stocking"]


class Stocking:
    """Part of `pairing.bench.Bench`, which brings its transactions and its shelf."""

    _ask: Callable[..., Any]
    _write: Callable[..., Any]
    correct: Callable[..., int]
    shelf: Callable[[], Shelf]
    tables: Callable[[str], pd.DataFrame]

    def lots(self) -> tuple[Held, ...]:
        """Return every lot with what cups and weighings leave of it, in the order in which they were entered."""
        found: tuple[Held, ...] = self._ask(lots_held)
        return found

    def stock(self) -> pd.DataFrame:
        """Return the same a row each, and items with a stated stock; columns as in `pairing.stock.table`."""
        return stock_table(self.lots(), self.shelf())

    def shopping_list(self, recipes: Iterable[Recipe | str], litres: float) -> tuple[Need, ...]:
        """Return what so many litres of each recipe take, what is there, and what to buy at what cost.

        A kept name, or ``name@version``, stands for its recipe.
        """
        shelf = self.shelf()
        return shopping_list(recipes_meant(recipes, self.tables("recipes"), shelf), litres, shelf, self.lots())

    def buy(self, item_id: str, size: str, **facts: Any) -> Lot:
        """Enter a bottle or bag as bought; ``lot`` is numbered where none is given.

        Parameters
        ----------
        item_id : str
            Base or flavouring.
        size : str
            As sold: ``30 ml``, ``1 kg``.
        **facts
            ``lot, tare_g, price, made_at, bought_at, opened_at, best_before, use_by, note``; ``bought_at`` is today
            where neither it nor ``made_at`` is given.

        Raises
        ------
        UnknownIdError, TableError, QuantityError
            When there is no such item, it has that lot already, or a fact cannot be.
        """
        bought: Lot = self._write(buy, item_id, size, facts)
        return bought

    def weigh(self, item_id: str, gross_g: float, lot: str | None = None, at: str | None = None) -> Held:
        """Settle what a lot holds by weighing bottle and contents; without ``lot`` the one in use."""
        held: Held = self._write(weigh, item_id, gross_g, lot, at)
        return held

    def mark_lot(self, item_id: str, what: str, lot: str | None = None, at: str | None = None) -> Lot:
        """Enter the day on which a lot was opened or emptied, and return the lot.

        Parameters
        ----------
        item_id : str
        what : {"opened_at", "emptied_at"}
        lot : str, optional
            The one in use; to be opened, the only one that is not open.
        at : str, optional
            The day, or the time; now.

        Raises
        ------
        UnknownIdError, TableError
            When there is no such lot, several are meant, or the day cannot be.
        """
        if what not in ("opened_at", "emptied_at"):
            raise TableError(f"a lot is not marked by {what!r}", "say opened_at or emptied_at")
        held, item_id = self.lots(), self.shelf().item_id(item_id)
        if lot is None:
            left = [one.lot for one in held if one.lot.item_id == item_id and one.lot.emptied_at is None]
            closed = [one for one in left if one.opened_at is None] if what == "opened_at" else []
            lot = (closed[0] if len(closed) == 1 else lot_meant(item_id, held).lot).lot
        self.correct(
            "lots", {"item_id": item_id, "lot": lot}, {what: at or datetime.now(UTC).isoformat("T", "seconds")}
        )
        return next(one.lot for one in self.lots() if (one.lot.item_id, one.lot.lot) == (item_id, lot))

    def save_set(self, name: str, flavouring_ids: Iterable[str]) -> tuple[str, ...]:
        """Save flavourings under a name, such as those of the small box; none of them forgets the set."""
        shelf, name = self.shelf(), clean_id(name, "name")
        ids = tuple(dict.fromkeys(shelf.flavouring(one).flavouring_id for one in flavouring_ids))
        self._write(state.save_set, name, ids)
        return ids

    def on_hand(self, name: str) -> tuple[str, ...]:
        """Return the flavourings of a saved set.

        Raises
        ------
        UnknownIdError
            When no set has that name.
        """
        sets: dict[str, list[str]] = self.sets()
        if name not in sets:
            raise UnknownIdError(f"no saved set {name!r}", nearest(name, sets) if sets else "save one first")
        return tuple(sets[name])

    def sets(self) -> dict[str, list[str]]:
        """Return the saved sets by name."""
        found: dict[str, list[str]] = self._ask(state.read_sets)
        return found
