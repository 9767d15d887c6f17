"""Sweetness of the whole cup, in sucrose equivalents: where to start, liked up to a plateau, and cloying beyond.

Sugars count as sucrose, polyols as 0.6 of it. A high-potency sweetener saturates: R = Rm·C ÷ (Kd + C), C in mg/l and R
in % sucrose, so that no amount of it is sweeter than Rm. What is not stated is not counted: the figure is a lower
bound.

References
----------
Law of the curve: DuBois et al. 1991, ACS Symposium Series 450; its constants are *from memory* and two are uncertain.
Liking of sweet rises to a plateau: Pfaffmann 1980. People differ, some like it ever sweeter, some less: Iatridi, Hayes
& Yeomans 2019, Nutrients 11:129; hence two weights that the log can move apart. 4 to 8 % as a starting point is common
practice (no source). Sweet, bitter and sour lower each other in mixtures: the table of taste with taste in Keast &
Breslin 2003, Food Qual. Prefer. 14:111 (from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

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
NEEDS = ("base_sugars_g_per_100g", "sugars_g_per_g", "dose_g_per_kg")


def sucrose_equivalent(sweetener: str, mg_per_l: Any) -> Any:
    """Return the sweetness of a high-potency sweetener in % sucrose."""
    most, half = CURVES[sweetener]
    return most * np.asarray(mg_per_l) / (half + np.asarray(mg_per_l))


def _mixed(table: RecipeTable, base_per_100g: Any, flavouring_per_g: Any) -> Any:
    """Return what 100 g of the finished drink hold."""
    return base_per_100g * table.base_fraction + table.total(table.dose_g_per_kg * flavouring_per_g) / 10


def cup_sweetness(table: RecipeTable) -> Any:
    """Return the sweetness of each cup in % sucrose, sweeteners taken together below the strongest one's ceiling."""
    sugars = _mixed(table, table.base_sugars_g_per_100g, table.sugars_g_per_g)
    polyols = _mixed(table, np.nan_to_num(table.base_polyols_g_per_100g), np.nan_to_num(table.polyols_g_per_g))
    intense = np.zeros(len(table))
    for sweetener in CURVES:
        stated = [np.nan_to_num(table.amount(column, sweetener)) for column in ("base_sweeteners", "sweeteners")]
        if any(part.any() for part in stated):
            intense += sucrose_equivalent(sweetener, _mixed(table, *stated) * 10)  # mg per 100 g to mg per kg
    return sugars + POLYOL * polyols + np.minimum(intense, max(most for most, _ in CURVES.values()))


def pleasant(table: RecipeTable) -> Any:
    """Return the sweetness up to the plateau, 0 to 1."""
    return np.clip(cup_sweetness(table) / PLEASANT, 0, 1)


def start(table: RecipeTable) -> Any:
    """Return 1 within the range to start from; outside it is never for it, and -1 unsweetened and where it cloys."""
    sweet = cup_sweetness(table)
    return np.where(np.clip(sweet, *START) == sweet, 1.0, np.interp(sweet, (0, *START, CLOYING), (-1, 0, 0, -1)))


def start_because(recipe: Recipe, table: RecipeTable) -> str:
    """Say how sweet it is beside what to start from."""
    return f"as sweet as {cup_sweetness(table)[0]:.2g} % sugar: {START[0]:g} to {START[1]:g} % is where to start"


def cloying(table: RecipeTable) -> Any:
    """Return the sweetness beyond 12 % sucrose, 1 at 24 %."""
    return np.clip(cup_sweetness(table) / CLOYING - 1, 0, 1)


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
        *map(_lowers, ("bitter", "sour")),
    ]
