"""Lots in words: how strong one reads beside the one before, and what is left of each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.report.document import Block, Bullets, Heading, Table

if TYPE_CHECKING:
    from pairing.learned import Learned
    from pairing.stock.reckon import Held

__all__ = ["FLAGS", "about_g", "called", "left", "lot_line", "lot_lines", "lots_that_matter", "stock_blocks"]

FLAGS = {
    "which lot": "several are open and nobody said which was used: counted here; weigh one with --lot to say",
    "used before bought": "a cup used it before it was bought: correct one of the two days",
    "used after emptied": "a cup used it after it was emptied: correct one of the two days",
    "overdrawn": "cups took more than it held: weigh it",
    "tare unknown": "it was weighed, and its tare_g is not known: load the lot with it",
    "lighter than its tare": "it was weighed lighter than the empty bottle: correct tare_g or the weighing",
    "unknown amounts": "cups of unknown size took of it: it holds at most this; weigh it",
}
"""What is to be said of each flag of `pairing.stock.reckon.Held`."""


def about_g(grams: float | None, *, most: bool = False) -> str:
    """Write a stock: whole grams, since drops make a milligram a fiction.

    Examples
    --------
    >>> about_g(28.64), about_g(28.64, most=True), about_g(None)
    ('about 29 g', 'at most 29 g', 'unknown')
    """
    return "unknown" if grams is None else f"{'at most' if most else 'about'} {grams:.0f} g"


def called(one: Held) -> str:
    """Write which lot it is."""
    return f"{one.lot.lot}{' (in use)' if one.in_use else ''}"


def left(one: Held) -> str:
    """Write what is left in a lot."""
    return about_g(one.held_g, most="unknown amounts" in one.flags)


def lots_that_matter(model: Learned, flavouring_ids: Iterable[str]) -> tuple[dict[str, Any], ...]:
    """Return rows of `Learned.lot_strength`: of lots in use that read otherwise than those before, or are new."""
    inside, in_use = set(flavouring_ids), model.shelf.lot_in_use
    rows: Any = model.lot_strength().to_dict("records")
    return tuple(
        row
        for row in rows
        if row["flavouring_id"] in inside
        and row["lot"] == in_use.get(row["flavouring_id"])
        and (row["found"] or not row["readings"])
    )


def lot_line(row: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """Say how strong a lot reads beside the one before, given a row of `Learned.lot_strength`."""
    item = names.get(row["flavouring_id"], row["flavouring_id"])
    lot = f"{item}, what names no lot" if row["lot"] is None else f"{item}, lot {row['lot']}"
    before = "what came before it" if row["before"] is None else f"lot {row['before']}"
    if not row["readings"]:
        return f"{lot}: not tasted yet; its dose starts from that of {before}, a little wider"
    size = (
        f"{row['times']:.2f} × as strong (80 %: {row['low']:.2f}–{row['high']:.2f}; "
        f"strengths: {row['readings']} of it, {row['readings_before']} before)"
    )
    if row["found"]:
        return f"{lot} reads {'stronger' if row['times'] > 1 else 'weaker'} than {before}: {size}"
    return f"{lot} cannot be told from {before} so far: {size}"


def lot_lines(model: Learned) -> list[str]:
    """Say of every lot how strong it reads beside the one before."""
    rows: Any = model.lot_strength().to_dict("records")
    return [lot_line(row, model.shelf.names) for row in rows]


def stock_blocks(model: Learned, lots: Sequence[Held]) -> list[Block]:
    """Tell in a report what is left of bottles and bags, and which lots read otherwise than those before."""
    names = model.shelf.names
    lines = lot_lines(model)
    here = [one for one in lots if one.lot.emptied_at is None]
    if not here and not lines:
        return []
    blocks: list[Block] = [Heading("Bottles and bags")]
    if here:
        columns = ("item", "lot", "left>", "use by", "best before")
        blocks.append(
            Table(columns, tuple(_row(one, names) for one in here), "As cups drew on it and the scale settled it")
        )
    return [*blocks, *([Bullets(tuple(lines))] if lines else [])]


def _row(one: Held, names: Mapping[str, str]) -> tuple[str, ...]:
    return (
        names.get(one.lot.item_id, one.lot.item_id),
        called(one),
        left(one),
        one.lot.use_by or "–",
        one.lot.best_before or "–",
    )
