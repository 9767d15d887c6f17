"""Flavour plain drink bases with a log that learns: needed doses, pairings, and what to try next.

Public names load on first use, so that importing the package stays light.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from pairing.version import __version__

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.errors import PairingError
    from pairing.learned import Learned, learn
    from pairing.model.answers import Advice, Suggestion
    from pairing.model.base import Base
    from pairing.model.brief import Brief
    from pairing.model.cup import Cup
    from pairing.model.flavouring import Flavouring
    from pairing.model.recipe import Recipe
    from pairing.pooling.fit import learn_pooled
    from pairing.safety.cautions import cautions

_PUBLIC = {
    "Advice": "pairing.model.answers",
    "Base": "pairing.model.base",
    "Bench": "pairing.bench",
    "Brief": "pairing.model.brief",
    "Cup": "pairing.model.cup",
    "Flavouring": "pairing.model.flavouring",
    "Learned": "pairing.learned",
    "PairingError": "pairing.errors",
    "Recipe": "pairing.model.recipe",
    "Suggestion": "pairing.model.answers",
    "cautions": "pairing.safety.cautions",
    "learn": "pairing.learned",
    "learn_pooled": "pairing.pooling.fit",
}
_SUBMODULES = ("errors", "graph")

__all__ = [
    "Advice",
    "Base",
    "Bench",
    "Brief",
    "Cup",
    "Flavouring",
    "Learned",
    "PairingError",
    "Recipe",
    "Suggestion",
    "__version__",
    "cautions",
    "learn",
    "learn_pooled",
]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        value = getattr(importlib.import_module(_PUBLIC[name]), name)
        globals()[name] = value
        return value
    if name in _SUBMODULES:
        return importlib.import_module(f"pairing.{name}")
    raise AttributeError(f"module 'pairing' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_PUBLIC])
