"""The pairing graph: what goes with what, and how sure that is.

Names load on first use: importing this package brings neither NumPy nor NetworkX.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pairing.graph.build import difference
    from pairing.graph.collections import CoUse, from_collections
    from pairing.graph.export import save
    from pairing.graph.groups import bottles, go_betweens
    from pairing.graph.queries import Questions

_PUBLIC = {
    "CoUse": "pairing.graph.collections",
    "Questions": "pairing.graph.queries",
    "bottles": "pairing.graph.groups",
    "difference": "pairing.graph.build",
    "from_collections": "pairing.graph.collections",
    "go_betweens": "pairing.graph.groups",
    "save": "pairing.graph.export",
}

__all__ = ["CoUse", "Questions", "bottles", "difference", "from_collections", "go_betweens", "save"]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        return getattr(importlib.import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module 'pairing.graph' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_PUBLIC])
