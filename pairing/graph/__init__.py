"""The pairing graph: what goes with what, and how sure that is.

Names load on first use: importing this package brings neither NumPy nor NetworkX.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pairing.graph.collections import CoUse, from_collections

_PUBLIC = {
    "CoUse": "pairing.graph.collections",
    "from_collections": "pairing.graph.collections",
}

__all__ = ["CoUse", "from_collections"]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        return getattr(importlib.import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module 'pairing.graph' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_PUBLIC])
