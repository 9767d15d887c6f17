"""What the trade says covers an off-note, and what brings it out.

The whey bitterness of a milk protein is rounded by vanilla, cocoa, coffee and caramel, and reframed by fruit with its
acid; beany and grassy notes are covered by roasted, nutty and cereal ones, never by delicate florals; chalky and drying
ones hardly by any aroma, rather by fat, thickness and less acid: all common practice (no source). What salt and
sweetness do to bitter and sour cups is beside the plugins on those, `salt-and-bitter` and `cup-sweetness`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 1)

SOURCE = "common practice (no source)"
ROUNDS = ("vanilla", "cocoa", "coffee", "caramel")
TOASTY = ("roast", "nut", "cereal", "biscuit", "malt", "cocoa", "coffee", "sesame", "caramel")
BY_AROMA = {  # id: note, words of a flavouring, log odds, what it does
    "round-bitter": ("bitter", ROUNDS, -0.5, "rounds bitterness"),
    "round-cooked": ("cooked", (*ROUNDS, "biscuit"), -0.5, "rounds a cooked note"),
    "round-whey": ("whey", ROUNDS, -0.5, "rounds the note of whey"),
    "toast-beany": ("beany", (*TOASTY, "tea", "smok"), -0.5, "covers a beany note"),
    "toast-grassy": ("grassy", TOASTY, -0.5, "covers a grassy note"),
    "floral-beany": ("beany", ("floral", "flower", "violet", "rose", "cucumber"), 0.5, "lets a beany note through"),
}
BY_BODY = {"fat": (4.0, -0.5), "thick": (30.0, -0.3), "acid": (0.5, 0.5)}
"""Amount at which it counts in full (g fat, mPa·s and g acids, per 100 g where it is an amount), and log odds."""
FRUIT = ("fruit", "berr", "citrus")
SD = 0.3


def in_cup(table: RecipeTable, what: str) -> Any:
    """Return g of it in 100 g of finished drink, NaN where unknown."""
    added = table.total(table[f"{what}_g_per_g"] * table.dose_g_per_kg) / 10
    return table[f"base_{what}_g_per_100g"] * table.base_fraction + added


def by_aroma(words: tuple[str, ...], table: RecipeTable) -> Any:
    """Return 1 where a flavouring speaks of one of the words."""
    return table.any(table.speaks_of(*words)) * 1.0


def fruit_on_whey(table: RecipeTable) -> Any:
    """Return 1 where fruit goes into milk protein."""
    return by_aroma(FRUIT, table) * table.has("base_allergens", "milk")


def by_body(what: str, table: RecipeTable) -> Any:
    """Return how far a cup has the fat, thickness or acid that counts in full."""
    amounts = {"fat": lambda: in_cup(table, "fat"), "acid": lambda: in_cup(table, "acids")}
    found = amounts.get(what, lambda: table.base_viscosity_mpa_s)()
    return np.clip(found / BY_BODY[what][0], 0, 1)


def _rule(
    name: str, note: str, feature: Callable[[RecipeTable], Any], mean: float, what: str, needs: tuple[str, ...] = ()
) -> Rule:
    because: Callable[[Recipe], str] = lambda recipe: what  # noqa: E731
    return Rule(
        id=name,
        summary=what[0].upper() + what[1:],
        source=SOURCE,
        acts_on="off-note",
        note=note,
        prior_mean=mean,
        prior_sd=SD,
        needs=needs,
        feature=feature,
        because=because,
    )


@hookimpl
def pairing_rules() -> Iterator[Rule]:
    """Yield a rule for each note and what acts on it."""
    for name, (note, words, mean, what) in BY_AROMA.items():
        yield _rule(name, note, partial(by_aroma, words), mean, f"{' or '.join(words[:3])} {what}")
    reframes = "fruit with its acid reframes the bitterness of milk protein"
    yield _rule("fruit-bitter", "bitter", fruit_on_whey, -0.3, reframes, ("base_allergens",))
    needs = {
        "fat": ("base_fat_g_per_100g", "fat_g_per_g", "dose_g_per_kg"),
        "thick": ("base_viscosity_mpa_s",),
        "acid": ("base_acids_g_per_100g", "acids_g_per_g", "dose_g_per_kg"),
    }
    for note in ("chalky", "drying"):
        for what, (_, mean) in BY_BODY.items():
            said = {"fat": "fat covers", "thick": "thickness covers", "acid": "acid brings out"}[what]
            yield _rule(f"{what}-{note}", note, partial(by_body, what), mean, f"{said} a {note} feel", needs[what])
