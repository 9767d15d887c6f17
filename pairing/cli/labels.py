"""Telling how labels were understood, on every command that counts by them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from pairing.cli.output import Output
from pairing.model.shelf import Shelf
from pairing.report.labels import labels
from pairing.report.lots import lot_line, lots_that_matter

if TYPE_CHECKING:
    from pairing.learned import Learned

__all__ = ["tell_labels", "tell_lots"]

_SHOWN = 6
"""Lines that are told without being asked for (our choice): a program gets all of them."""


def tell_labels(out: Output, shelf: Shelf, base_ids: Iterable[str], flavouring_ids: Iterable[str]) -> None:
    """Say how labels were read, per what they count, and what was assumed; warn of those that may be another dose."""
    bases = tuple(base_ids)
    found = list(labels(shelf, bases, flavouring_ids))
    out.value("labels", found)
    for one in {one.flavouring_id: one for one in found if one.direction.doubtful}.values():
        out.warn(f"the label of {shelf.flavouring(one.flavouring_id).name}: {one.direction.assumptions[0]}")
    for one in found if len(found) <= _SHOWN else ():
        name = shelf.flavouring(one.flavouring_id).name
        where = f" in {', '.join(shelf.base(b).name for b in one.base_ids)}" if len(one.base_ids) < len(bases) else ""
        out.say(f"Label of {name}{where}, {one.direction.as_written!r}: {one.direction}.")
    if len(found) > _SHOWN:
        out.say(
            "Labels count per base, before addition, unless they say finished. Name a flavouring to see how its label "
            "was understood."
        )


def tell_lots(out: Output, model: Learned, flavouring_ids: Iterable[str]) -> None:
    """Say which lots in use read otherwise than those before, or were never tasted."""
    found = lots_that_matter(model, flavouring_ids)
    out.value("lots", list(found))
    for row in found:
        out.say(f"{lot_line(row, model.shelf.names)}.")
