"""The one place in which the values of `reason` become words; nothing reads these words again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pairing.model.reason import Lack

__all__ = ["lacks"]


def lacks(found: Iterable[Lack], names: Mapping[str, str] = MappingProxyType({})) -> list[str]:
    """Say what is not known, item by item, by the names that are given, else by the ids.

    Examples
    --------
    >>> from pairing.model.reason import Lack
    >>> lacks([Lack("plum", "energy"), Lack("oat", "cost"), Lack("plum", "cost")], {"plum": "Plum drops"})
    ['Plum drops lacks energy, cost', 'oat lacks cost']
    """
    by_item: dict[str, list[str]] = {}
    for one in found:
        by_item.setdefault(one.item_id, []).append(one.what)
    return [f"{names.get(item, item)} lacks {', '.join(what)}" for item, what in by_item.items()]
