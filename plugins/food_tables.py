"""Compositions from an open table: the Indian Food Composition Tables 2017, 542 foods as bought.

Values are means over regions; the range is one standard deviation either way. A 0 in the table may be none or not
measured, so that it is left out: unknown is never zero. The table and its licence lie beside this file.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from pairing.api import Composition, hookimpl

PAIRING_API = (1, 1)

TABLE = Path(__file__).with_name("ifct2017.csv")
SOURCE = "Indian Food Composition Tables 2017, National Institute of Nutrition, Hyderabad, entry {code}"
KJ_PER_KCAL = 4.184
COLUMNS: Mapping[str, tuple[str, float]] = {
    "enerc": ("energy_kcal_per_100g", 1 / KJ_PER_KCAL),
    "fatce": ("fat_g_per_100g", 1.0),
    "protcnt": ("protein_g_per_100g", 1.0),
    "choavldf": ("carbohydrate_g_per_100g", 1.0),
    "fsugar": ("sugars_g_per_100g", 1.0),
    "fibtg": ("fibre_g_per_100g", 1.0),
    "na": ("sodium_mg_per_100g", 1000.0),
}
"""Column of the table, column of the bases, and what turns the one into the other."""


@hookimpl
def pairing_compositions(text: str) -> Iterator[Composition]:
    """Yield the foods whose name holds every word that was asked for, the shortest names first."""
    words = text.casefold().split()
    found = [row for row in rows() if words and all(word in row["name"].casefold() for word in words)]
    for row in sorted(found, key=lambda row: len(row["name"])):
        yield composition(row)


@cache
def rows() -> tuple[Mapping[str, str], ...]:
    """Read the table, once."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def composition(row: Mapping[str, str]) -> Composition:
    """Turn a row into values with their ranges."""
    values, ranges = {}, {}
    for name, (column, factor) in COLUMNS.items():
        mean, sd = (float(row[key] or 0.0) * factor for key in (name, f"{name}_e"))
        if mean > 0:
            values[column] = mean
            if sd > 0:
                ranges[column] = (max(0.0, mean - sd), mean + sd)
    return Composition(name=row["name"], source=SOURCE.format(code=row["code"]), values=values, ranges=ranges)
