"""Familiar partners: what is used together, beyond chance, in a collection of recipes that you supply.

In the bench's ``plugins.toml``::

    [familiar-partners]
    collection = "recipes.txt"       # one recipe per line, names separated by ;
    [familiar-partners.names]        # only where a flavouring is called otherwise there
    sour-cherry = "cherry"

A name matches a flavouring whose id reads the same with spaces for hyphens. Familiar is not the same as good: it is
what people are used to, so the prior is mild.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, Setting, from_collections, hookimpl

PAIRING_API = (1, 1)


class Familiar:
    """Affinities from one collection, read when first asked for."""

    def __init__(self, path: Path, names: Mapping[str, str]) -> None:
        self._path, self._names = path, names
        self._kept: dict[tuple[str, str], float] = {}

    @cached_property
    def _graph(self) -> Any:
        lines = self._path.read_text("utf-8").splitlines()
        return from_collections([{_plain(name) for name in line.split(";")} - {""} for line in lines if line.strip()])

    def affinity(self, one: str, other: str) -> float:
        """Return how far two flavourings are used together beyond chance, -1 to 1; 0 where nothing is known."""
        key = min(one, other), max(one, other)
        if key not in self._kept:
            self._kept[key] = self._graph.affinity(*(_plain(self._names.get(name, name)) for name in key))
        return self._kept[key]

    def feature(self, table: RecipeTable) -> Any:
        """Return the mean affinity over the pairs of each recipe."""
        slots, ids = table.flavouring_index, table.flavouring_ids
        total, pairs = np.zeros(len(table)), np.zeros(len(table))
        for i in range(slots.shape[1]):
            for j in range(i + 1, slots.shape[1]):
                both = (slots[:, i] >= 0) & (slots[:, j] >= 0)
                keys, place = np.unique(slots[both, i] * len(ids) + slots[both, j], return_inverse=True)
                found = [self.affinity(ids[key // len(ids)], ids[key % len(ids)]) for key in keys.tolist()]
                total[both] += np.array(found, dtype=float)[place]
                pairs += both
        return total / np.maximum(pairs, 1)

    def because(self, recipe: Recipe) -> str:
        """Say which two are the most familiar."""
        ids = recipe.flavouring_ids
        pairs = [(self.affinity(a, b), a, b) for i, a in enumerate(ids) for b in ids[i + 1 :]]
        best = max(pairs, default=(0.0, "", ""))
        if best[0] <= 0:
            return "these are not used together more than chance in your collection"
        return f"{best[1]} and {best[2]} are used together more than chance in your collection"


def _plain(name: str) -> str:
    return " ".join(name.replace("-", " ").replace("_", " ").casefold().split())


@hookimpl
def pairing_settings() -> list[Setting]:
    """Declare the collection, and names that differ in it."""
    return [
        Setting(name="collection", kind="file", about="Recipes, one per line, names separated by ;"),
        Setting(name="names", each="flavouring", about="What a flavouring is called in the collection"),
    ]


@hookimpl
def pairing_rules(settings: Mapping[str, Any]) -> list[Rule]:
    """Return the rule if a collection was supplied."""
    path = settings.get("collection")
    if path is None:
        return []
    familiar = Familiar(path, settings.get("names", {}))
    return [
        Rule(
            id="co-use",
            summary="Flavourings that your collection of recipes uses together go together",
            source=f"co-use above chance in {path.name} (content {hashlib.sha256(path.read_bytes()).hexdigest()[:8]})",
            acts_on="liking",
            prior_mean=0.4,
            prior_sd=0.4,
            feature=familiar.feature,
            because=familiar.because,
        )
    ]
