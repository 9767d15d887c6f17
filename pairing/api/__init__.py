"""All that a plugin needs: import from here and from nowhere else in the package.

A plugin is a module that declares ``PAIRING_API`` and marks functions with `hookimpl`:

>>> from pairing.api import Rule, hookimpl
>>> PAIRING_API = (1, 0)
>>> @hookimpl
... def pairing_rules(settings):
...     return [
...         Rule(
...             id="thin-is-better",
...             summary="Thin bases carry delicate flavourings better",
...             source="common practice (no source)",
...             acts_on="liking",
...             prior_mean=0.3,
...             prior_sd=0.3,
...             needs=("base_viscosity_mpa_s",),
...             feature=lambda table: (table.base_viscosity_mpa_s < 5) * 1.0,
...             because=lambda recipe: f"{recipe.base_id} is thin",
...         )
...     ]
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import pluggy

from pairing.api.planning import Baseline, Goal, Limit, Scores
from pairing.api.rules import CORE_COLUMNS, Rule, RuleLike, bins, spline
from pairing.api.screens import Command, View
from pairing.api.settings import Setting
from pairing.api.tables import Attribute, Composition, LogEvent, Reader, Writer
from pairing.errors import PairingError, PluginError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.tables import AdditionTable, RecipeTable

if TYPE_CHECKING:
    from pairing.graph.collections import CoUse

__all__ = [
    "API_VERSION",
    "CORE_COLUMNS",
    "AdditionTable",
    "Attribute",
    "Base",
    "Baseline",
    "Command",
    "Composition",
    "Flavouring",
    "Goal",
    "Limit",
    "LogEvent",
    "PairingError",
    "PluginError",
    "Reader",
    "Recipe",
    "RecipeTable",
    "Rule",
    "RuleLike",
    "Scores",
    "Setting",
    "View",
    "Writer",
    "bins",
    "from_collections",
    "hookimpl",
    "spline",
]

API_VERSION = (1, 1)
"""Version of this interface. A plugin states the one it was written for as ``PAIRING_API``: the first number has to
be the same, the second at most this one. What is listed here is only ever added to within a first number."""

hookimpl = pluggy.HookimplMarker("pairing")
"""Mark a function as a hook: ``@hookimpl`` over ``def pairing_rules(settings): …``."""


def from_collections(sets: Iterable[Iterable[str]]) -> CoUse:
    """Return the co-use graph of recipes given as sets of names; see `pairing.graph.from_collections`."""
    from pairing.graph import collections

    return collections.from_collections(sets)
