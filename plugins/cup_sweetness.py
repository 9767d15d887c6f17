"""Sweetness of the whole cup, in sucrose equivalents: where to start, what is liked, what cold and aroma make of it.

Sugars count as sucrose, polyols as 0.6 of it. A high-potency sweetener saturates: R = Rm·C ÷ (Kd + C), C in mg/l and R
in % sucrose, so that no amount of it is sweeter than Rm. What is not stated is not counted: the figure is a lower
bound.

References
----------
Law of the curve: DuBois et al. 1991, ACS Symposium Series 450; its constants are *from memory* and two are uncertain.
Liking of sweet rises to a plateau: Pfaffmann 1980. People differ, some like it ever sweeter, some less: Iatridi, Hayes
& Yeomans 2019, Nutrients 11:129; hence two weights that the log can move apart. 4 to 8 % as a starting point is common
practice (no source). Sweet, bitter and sour lower each other in mixtures: the table of taste with taste in Keast &
Breslin 2003, Food Qual. Prefer. 14:111 (from memory). A cooled tongue tastes less of sucrose: Green & Frankmann 1987,
Chem. Senses 12:609 (from memory, direction only). Taste and aroma raise each other where they belong together:
strawberry did with sweet, peanut butter did not: Frank & Byram 1988, Chem. Senses 13:445 (from memory; of sweetness by
aroma; that the aroma gains, too, is common practice).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from pairing.api import AdditionTable, Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 1)

CURVES = {
    "aspartame": (16.0, 560.0),
    "acesulfame k": (11.6, 470.0),
    "saccharin": (10.1, 130.0),
    "rebaudioside a": (10.0, 200.0),
    "steviol glycosides": (10.0, 200.0),
    "stevia": (10.0, 200.0),
    "sucralose": (14.7, 120.0),
    "cyclamate": (15.2, 3090.0),
}
"""Rm in % sucrose and Kd in mg/l by name (from memory; sucralose and cyclamate uncertain)."""
POLYOL = 0.6
PLEASANT, CLOYING = 8.0, 12.0
"""% sucrose at which the plateau is reached, and beyond which it may cloy (common practice, no source)."""
START = (4.0, 8.0)
"""% sucrose from which a drink is seasoned (common practice, no source)."""
ROOM_C, FRIDGE_C, FRIDGE_LOSS = 20.0, 5.0, 0.2
"""Sweetness counts in full at room temperature, a fifth less out of the fridge, straight between (our choice)."""
CONGRUENT = ("fruit", "berr", "vanilla", "caramel", "toffee", "honey")
"""Aromas that belong with sweet (strawberry from memory, the others common practice, no source)."""
NEEDS = ("base_sugars_g_per_100g", "sugars_g_per_g", "dose_g_per_kg")


def sucrose_equivalent(sweetener: str, mg_per_l: Any) -> Any:
    """Return the sweetness of a high-potency sweetener in % sucrose."""
    most, half = CURVES[sweetener]
    return most * np.asarray(mg_per_l) / (half + np.asarray(mg_per_l))


def _mixed(table: RecipeTable, base_per_100g: Any, flavouring_per_g: Any) -> Any:
    """Return what 100 g of the finished drink hold."""
    return base_per_100g * table.base_fraction + table.total(table.dose_g_per_kg * flavouring_per_g) / 10


def _together(sugars: Any, polyols: Any, mg_per_100g: Callable[[str], Any]) -> Any:
    """Return % sucrose of sugars, polyols and sweeteners, these together below the strongest one's ceiling."""
    intense = sum(sucrose_equivalent(sweetener, mg_per_100g(sweetener) * 10) for sweetener in CURVES)  # mg per kg
    return sugars + POLYOL * polyols + np.minimum(intense, max(most for most, _ in CURVES.values()))


def cup_sweetness(table: RecipeTable) -> Any:
    """Return the sweetness of each cup in % sucrose."""

    def sweetener(name: str) -> Any:
        stated = [np.nan_to_num(table.amount(column, name)) for column in ("base_sweeteners", "sweeteners")]
        return _mixed(table, *stated) if any(part.any() for part in stated) else 0.0

    sugars = _mixed(table, table.base_sugars_g_per_100g, table.sugars_g_per_g)
    polyols = _mixed(table, np.nan_to_num(table.base_polyols_g_per_100g), np.nan_to_num(table.polyols_g_per_g))
    return _together(sugars, polyols, sweetener)


def congruent(table: AdditionTable) -> Any:
    """Return how sweet the base is, 0 to 1 at the plateau, where an aroma goes in that belongs with sweet."""
    polyols = np.nan_to_num(table.base_polyols_g_per_100g)
    sweet = _together(
        table.base_sugars_g_per_100g, polyols, lambda name: np.nan_to_num(table.amount("base_sweeteners", name))
    )
    return table.speaks_of(*CONGRUENT) * np.clip(sweet / PLEASANT, 0, 1)


def pleasant(table: RecipeTable) -> Any:
    """Return the sweetness up to the plateau, 0 to 1."""
    return np.clip(cup_sweetness(table) / PLEASANT, 0, 1)


def start(table: RecipeTable) -> Any:
    """Return 1 within the range to start from; outside it is never for it, and -1 unsweetened and where it cloys."""
    sweet = cup_sweetness(table)
    outside = np.interp(sweet, (0.0, *START, CLOYING), (-1.0, 0.0, 0.0, -1.0))
    return np.where((sweet >= START[0]) & (sweet <= START[1]), 1.0, outside)


def start_because(recipe: Recipe, table: RecipeTable) -> str:
    """Say how sweet it is beside what to start from."""
    return f"as sweet as {cup_sweetness(table)[0]:.2g} % sugar: {START[0]:g} to {START[1]:g} % is where to start"


def cloying(table: RecipeTable) -> Any:
    """Return the sweetness beyond 12 % sucrose, 1 at 24 %."""
    return np.clip(cup_sweetness(table) / CLOYING - 1, 0, 1)


def cold(table: RecipeTable) -> Any:
    """Return what the cold changes: below 0 where it takes pleasant sweetness away, above 0 where the cup cloys less.

    Nothing where the temperature is not known.
    """
    loss = np.nan_to_num(np.clip((ROOM_C - table.temperature_c) / (ROOM_C - FRIDGE_C), 0, 1)) * FRIDGE_LOSS
    full = cup_sweetness(table)
    worth = [np.clip(x / PLEASANT, 0, 1) - np.clip(x / CLOYING - 1, 0, 1) for x in (full * (1 - loss), full)]
    return worth[0] - worth[1]


def _lowers(note: str) -> Rule:
    return Rule(
        id=f"less-{note}",
        summary=f"Sweetness makes a {note} note rarer",
        source="Keast & Breslin 2003, Food Qual. Prefer. 14:111 (from memory)",
        acts_on="off-note",
        note=note,
        prior_mean=-0.5,
        prior_sd=0.3,
        needs=NEEDS,
        feature=pleasant,
        because=lambda recipe: f"the sweetness of the whole cup takes a {note} note down",
    )


def _because(words: str) -> Any:
    def because(recipe: Recipe) -> str:
        return f"the whole cup is {words}"

    return because


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rules."""
    return [
        Rule(
            id="pleasant",
            summary="Sweetness of the whole cup is liked, up to a plateau",
            source="Pfaffmann 1980; DuBois et al. 1991, ACS Symp. Ser. 450 (constants from memory)",
            acts_on="liking",
            prior_mean=0.4,
            prior_sd=0.5,
            needs=NEEDS,
            feature=pleasant,
            because=_because("pleasantly sweet"),
        ),
        Rule(
            id="cloying",
            summary="A cup sweeter than 12 % sugar cloys for many",
            source="Iatridi, Hayes & Yeomans 2019, Nutrients 11:129 (people differ; the limit is common practice)",
            acts_on="liking",
            prior_mean=-0.4,
            prior_sd=0.6,
            needs=NEEDS,
            feature=cloying,
            because=_because("very sweet"),
        ),
        Rule(
            id="start",
            summary="As sweet as 4 to 8 % sugar is where to start",
            source="common practice (no source)",
            acts_on="liking",
            prior_mean=0.2,
            prior_sd=0.3,
            needs=NEEDS,
            feature=start,
            because=start_because,
        ),
        Rule(
            id="cold",
            summary="Out of the fridge a cup is less sweet than it was mixed",
            source="Green & Frankmann 1987, Chem. Senses 12:609 (from memory, direction only)",
            acts_on="liking",
            prior_mean=0.4,
            prior_sd=0.4,
            needs=NEEDS,
            feature=cold,
            because=lambda recipe: "the cold of the cup dulls its sweetness",
        ),
        Rule(
            id="congruent",
            summary="In a sweet base less is needed of an aroma that belongs with sweet",
            source="Frank & Byram 1988, Chem. Senses 13:445 (from memory, which pairs; how much is common practice)",
            acts_on="dose",
            prior_mean=-0.15,
            prior_sd=0.2,
            needs=("base_sugars_g_per_100g",),
            feature=congruent,
            because=lambda recipe: "sweetness raises an aroma that belongs with it: expect to need less",
        ),
        _lowers("bitter"),
        _lowers("sour"),
    ]
