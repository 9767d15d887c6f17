"""Which column of a file is which of ours: other order and case, synonyms, units in the heading."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from pairing.errors import close, first_few
from pairing.model.columns import TABLES, TableSchema
from pairing.quantities.rates import conversion
from pairing.store.notes import Note

__all__ = [
    "MAX_COLUMNS",
    "MAX_TITLES",
    "STAMPS",
    "SourceColumn",
    "heading_row",
    "is_limit",
    "match_headings",
    "missing_columns",
    "note_titles",
    "numbered",
    "plain_heading",
    "worth_naming",
]

STAMPS = ("revision", "revised_at", "author")
"""Columns that an export adds; a file that has them keeps them where they fit the bench."""

_PER_100ML, _PER_100G = "_per_100ml", "_per_100g"
_TAKEN = ("_per_100g", "_per_kg", "_per_g")
"""Units that are taken where a heading says none."""
_CALLED = ("base", "drink", "flavouring", "target")
_SLIP = 0.75
"""A heading that shares less than this of its letters with a column is no slip of it (our choice)."""
_NUMBERED = re.compile(r"(.*?[^\d_])_?(\d)")
_OWN_SCALE = re.compile(r"(?<=strength)_0_5$|(?<=liking|rating)_1_\d\d?$|(?<=score|liked)_1_\d\d?$")
"""Scales behind a heading, no part of the name: Strength 0-5, Score 1-10; another one of strength is not read."""
_RANGE = re.compile(
    r"(lik(?:e|ed|ing)|score|rating)\s*[(\[]1\s*[-–]\s*\d+[)\]]|(str(?:ong|ength))\s*[(\[][01]\s*[-–]\s*5[)\]]"
)
"""In brackets more are: Like (1-10), Strong (1-5)."""
_PART_PER = re.compile(r"^(fat|protein|carbohydrate|sugars|fibre|salt)_per_100_?(g|ml)$")
_LIMIT = re.compile(r"(?:max|maximum|limit|upper_limit|highest)(?:$|_)|.*_(?:max|maximum|limit)$")
_WORDS = {
    "flavor": "flavouring", "flavors": "flavouring", "flavour": "flavouring", "flavoring": "flavouring",
    "fiber": "fibre", "carbs": "carbohydrate", "carbohydrates": "carbohydrate", "sugar": "sugars",
    "price": "cost", "calories": "energy_kcal", "allergen": "allergens", "tag": "tags", "note": "note",
    "paid": "cost", "kilocalories": "kcal", "grams": "g", "gram": "g", "millilitre": "ml", "milliliter": "ml",
}  # fmt: skip
_SYNONYMS = {
    "bases": {
        "id": "base_id", "base": "base_id", "drink": "base_id", "code": "base_id", "title": "name", "base_name": "name",
        "product": "name", "name_of_drink": "name", "serving": "serving_g",
        "density": "density_g_per_ml", "cost": "cost_per_kg", "fat": "fat_g_per_100g",
        "protein": "protein_g_per_100g", "carbohydrate": "carbohydrate_g_per_100g", "sugars": "sugars_g_per_100g",
        "serving_size": "serving_g", "contains": "allergens", "glass": "serving_g",
        "usual_glass": "serving_g", "portion": "serving_g",
        "usual_serving": "serving_g", "fibre": "fibre_g_per_100g",
        "kcal": "energy_kcal_per_100g", "energy_kcal": "energy_kcal_per_100g",
    },
    "flavourings": {
        "id": "flavouring_id", "flavouring": "flavouring_id", "code": "flavouring_id", "title": "name",
        "flavouring_name": "name", "name_of_flavouring": "name", "label_dosage": "label_dose", "label": "label_dose",
        "dose": "label_dose", "dosage": "label_dose", "direction": "label_dose",
        "cost": "cost_per_g", "stock": "stock_g", "density": "density_g_per_ml", "drop": "drop_mg",
        "maker_says": "label_dose", "supplier_says": "label_dose", "label_says": "label_dose", "usage": "label_dose",
        "recommended": "label_dose", "recommended_dose": "label_dose", "made_with": "carrier",
        "solvent": "carrier", "contains": "allergens", "drop_weighs": "drop_mg", "1_drop_weighs": "drop_mg",
        "ok_for_food": "food_use", "food_ok": "food_use",
        "food": "food_use", "food_grade": "food_use", "food_safe": "food_use", "for_food": "food_use",
        "kind": "form", "type": "form", "category": "family", "drop_weight": "drop_mg", "drop_weight_mg": "drop_mg",
        "drop_mass": "drop_mg", "drop_mass_mg": "drop_mg", "mg_per_drop": "drop_mg",
        "directions": "label_dose", "label_direction": "label_dose",
        "label_directions": "label_dose", "how_to_use": "label_dose", "how_to_use_label": "label_dose",
    },
    "readings": {
        "trial": "trial_id", "cup": "trial_id", "cup_id": "trial_id", "base": "base_id", "flavouring": "flavouring_id",
        "drink": "base_id", "base_amount": "base_g", "how_much": "amount", "how_much_drink": "base_g",
        "drink_amount": "base_g", "drink_g": "base_g", "drink_ml": "base_ml", "how_strong": "strength",
        "strong": "strength",
        "how_good": "liking", "like": "liking", "liked": "liking", "sample": "trial_id", "cup_no": "trial_id",
        "cup_number": "trial_id", "trial_no": "trial_id", "trial_number": "trial_id",
        "person": "taster", "judge": "taster", "taster_id": "taster", "panellist": "taster", "panelist": "taster",
        "who": "taster", "assessor": "taster",
        "day": "tasted_at", "tasted": "tasted_at", "no": "trial_id", "nr": "trial_id", "aroma": "flavouring_id",
        "date": "tasted_at", "time": "tasted_at", "when": "tasted_at", "datetime": "tasted_at",
        "score": "liking", "rating": "liking", "overall_liking": "liking", "hedonic": "liking", "comment": "note",
        "comments": "note", "notes": "note", "remarks": "note", "off_note": "off_notes", "offnotes": "off_notes",
        "temperature": "temperature_c", "quantity": "amount", "base_mass_g": "base_g", "base_amount_g": "base_g",
        "volume_ml": "base_ml", "base_volume_ml": "base_ml", "reading_no": "reading", "reading_number": "reading",
    },
    "steps": {"trial": "trial_id", "item": "item_id", "what": "kind", "time": "at", "parent": "parent_trial_id"},
    "tasters": {"id": "taster", "taster_id": "taster", "person": "taster", "name": "taster",
                "avoids": "avoid", "body_mass": "body_mass_kg", "weight_kg": "body_mass_kg"},
    "targets": {"id": "target_id", "target": "target_id", "reference": "reference_trial_id"},
    "comparisons": {"id": "check_id", "check": "check_id", "date": "served_at", "person": "taster"},
    "calibrations": {"flavouring": "flavouring_id", "mass_g": "grams", "g": "grams", "date": "at", "time": "at"},
}  # fmt: skip


_LAST = frozenset(
    {"no", "nr", "sample", "day", "tasted", "like", "liked", "label", "usage", "product", "kind", "type", "how_much"}
)
"""Words that mean a column of ours only where no plainer one does."""
_MATTERS = {
    "bases": ("energy_kcal_per_100g", "allergens", "serving_g", "cost_per_kg"),
    "flavourings": ("label_dose", "food_use", "form", "carrier", "drop_mg", "allergens", "cost_per_g"),
    "readings": ("strength", "liking", "taster", "tasted_at"),
}
"""Columns that a suggestion is poor without."""


@dataclass(frozen=True, slots=True)
class SourceColumn:
    """Where one of our columns comes from, and what its numbers become.

    Attributes
    ----------
    source : object
        The file's heading.
    times, divide : int
        What numbers in the heading's unit are multiplied and divided by.
    unit : str
        The heading in the way of our names, with its own unit; empty where it is our column's.
    also : tuple of object
        Other headings that are the same but for case, blanks and signs.
    by_volume : bool
        Its numbers are per 100 ml where our column is per 100 g: the density of each row weighs them.
    """

    source: object
    times: int = 1
    divide: int = 1
    unit: str = ""
    also: tuple[object, ...] = ()
    by_volume: bool = False


MAX_COLUMNS = 1000
"""Columns that are read of a table (our choice): ours are some thirty."""
MAX_TITLES = 20
"""So many rows with text are looked at for the one that names the columns (our choice)."""


def note_titles(rows: Sequence[Iterable[object]], file: str, notes: list[Note]) -> None:
    """Say which rows above the one with the column names are passed over."""
    said = [repr(str(cell).strip()) for row in rows for cell in row if cell is not None and str(cell).strip()]
    if said:
        notes.append(Note(f"above the column names, {first_few(said)} is not read", file))


def heading_row(rows: Sequence[Iterable[object]]) -> int:
    """Return which of a file's first rows names the columns: a title above them names at most one.

    Examples
    --------
    >>> heading_row([["Stock of spring", ""], ["base_id", "Name"], ["oat", "Oat"]])
    1
    """
    named = [sum(plain_heading(cell) in _every_name() for cell in row if cell is not None) for row in rows]
    return next((i for i, n in enumerate(named) if n > 1), 0)


@lru_cache(maxsize=1)
def _every_name() -> frozenset[str]:
    synonyms = {name for names in _SYNONYMS.values() for name in names}
    return frozenset({name for table in TABLES.values() for name in table.names} | synonyms)


def plain_heading(heading: object) -> str:
    """Write a heading as our columns are: lower case, words of one spelling, joined by _."""
    return _plain(str(heading))


@lru_cache(maxsize=1000)
def _plain(heading: str) -> str:
    text = unicodedata.normalize("NFKC", heading).replace("\ufeff", "").casefold()
    text = _RANGE.sub(r"\1\2", text)
    text = text.replace("#", " no ").replace("%", " pct ").replace("/", " per ").replace("°", " ").replace("·", " ")
    text = re.sub(r"[^\w]+", "_", text).strip("_")
    text = "_".join(_WORDS.get(word, word) for word in text.split("_") if word)
    text = _OWN_SCALE.sub("", text.replace("energy_energy_kcal", "energy_kcal"))
    text = re.sub(r"^(kcal|kj)_per_", r"energy_\1_per_", text)
    text = _PART_PER.sub(r"\1_g_per_100\2", text)
    return re.sub(r"_per_(\d+)_(k?g|ml)\b", r"_per_\1\2", text).replace("_per_1g", "_per_g")


def numbered(heading: object) -> tuple[str, str] | None:
    """Return stem and number of a heading of one of several columns that are alike; None where it is none.

    Examples
    --------
    >>> numbered("Flavouring 2"), numbered("Name"), numbered("kcal per 100")
    (('flavouring', '2'), None, None)
    """
    found = _NUMBERED.fullmatch(plain_heading(heading))
    return None if found is None else (found[1], found[2])


def _converted(plain: str, names: tuple[str, ...]) -> tuple[str, Fraction] | None:
    """Return the column that says the same in another unit, and what brings it to the column's."""
    return next(((name, times) for name in names if (times := conversion(plain, name)) is not None), None)


def _by_volume(plain: str, table: TableSchema) -> tuple[str, Fraction] | None:
    """Return the column per 100 g that a heading per 100 ml tells of, and what brings it to the column's unit."""
    if not plain.endswith(_PER_100ML) or "density_g_per_ml" not in table.names:
        return None
    weighed = plain.replace(_PER_100ML, _PER_100G)
    return (weighed, Fraction(1)) if weighed in table.names else _converted(weighed, table.names)


def match_headings(table: TableSchema, headings: list[object]) -> tuple[dict[str, SourceColumn], list[str]]:
    """Find our columns among a file's headings.

    Parameters
    ----------
    table : TableSchema
    headings : list
        As they stand in the file.

    Returns
    -------
    found : dict of column name to SourceColumn
    notes : list of str
        Conversions made, and headings that are not kept.
    """
    names = set(table.names)
    found: dict[str, SourceColumn] = {h: SourceColumn(h) for h in headings if isinstance(h, str) and h in names}
    notes: list[str] = []
    synonyms = _SYNONYMS.get(table.name, {})
    rest = [h for h in headings if not (isinstance(h, str) and h in names) and h not in STAMPS]
    rest.sort(key=lambda heading: plain_heading(heading) in _LAST)
    for heading in rest:
        plain = plain_heading(heading)
        ours = plain if plain in names else synonyms.get(plain)
        converted = _converted(plain, table.names)
        if ours and ours not in found:
            found[ours] = SourceColumn(heading)
            if "_per_" not in plain and ours.endswith(_TAKEN):
                notes.append(f"column {heading!r} is read as {ours}: name the unit in the heading if it is another")
        elif ours and plain == plain_heading(found[ours].source):
            found[ours] = replace(found[ours], also=(*found[ours].also, heading))
            notes.append(f"columns {found[ours].source!r} and {heading!r} are read as one")
        elif (volume := _by_volume(plain, table)) and volume[0] not in found:
            column, times = volume
            unit = "" if times == 1 else plain.replace(_PER_100ML, _PER_100G)
            found[column] = SourceColumn(heading, times.numerator, times.denominator, unit=unit, by_volume=True)
            notes.append(f"column {heading!r} is read as {column}, by the density of each base")
        elif converted and converted[0] not in found:
            column, times = converted
            found[column] = SourceColumn(heading, times.numerator, times.denominator, unit=plain)
            notes.append(f"column {heading!r} is read as {column} (× {float(times):.6g})")
        elif plain:
            taken = ours or (converted and converted[0])
            why = f" ({taken} is already there)" if taken in found else _near(plain, table.names)
            notes.append(f"column {heading!r} is not used{why}")
    if sum(plain_heading(heading) in _CALLED for heading in headings) == 1:
        found = _named(table, found)
    return found, notes


def _named(table: TableSchema, found: dict[str, SourceColumn]) -> dict[str, SourceColumn]:
    """Take a column called as the things are, such as Flavouring, for their names where no other holds those."""
    key = table.key[0]
    called = key in found and plain_heading(found[key].source) in _CALLED
    if not called or "name" not in table.names or "name" in found:
        return found
    return {("name" if name == key else name): column for name, column in found.items()}


def missing_columns(table: TableSchema, found: Iterable[str]) -> list[str]:
    """Return what a file lacks, all at once; an id that is lacking is made from the name.

    Examples
    --------
    >>> missing_columns(TABLES["readings"], ["base_id", "liking"])
    ['trial_id (one for each cup)', 'flavouring_id', 'dose_g_per_kg (or amount, with base_g or base_ml)']
    >>> missing_columns(TABLES["bases"], ["name"])
    []
    """
    there = {*found, *([table.key[0]] if "name" in found else [])}
    needed = [c.name for c in table.columns if c.required and c.name not in there]
    if table.name == "readings":
        needed += [] if "flavouring_id" in there else ["flavouring_id"]
        needed = [f"{name} (one for each cup)" if name == "trial_id" else name for name in needed]
        measured = {"dose_g_per_kg", "amount"} & there
        needed += [] if measured or not needed else ["dose_g_per_kg (or amount, with base_g or base_ml)"]
    return needed


def worth_naming(table: TableSchema, found: Iterable[str], unused: int) -> str:
    """Say which columns matter that a file with unused ones does not have; nothing where it has them.

    Examples
    --------
    >>> worth_naming(TABLES["bases"], ["name", "serving_g", "energy_kcal_per_100g", "cost_per_kg"], 2)
    'what is not used counts once it is called as here: allergens'
    """
    lacking = [name for name in _MATTERS.get(table.name, ()) if name not in found]
    return f"what is not used counts once it is called as here: {', '.join(lacking)}" if lacking and unused else ""


def is_limit(heading: object) -> bool:
    """Tell whether a heading announces a maximum.

    Examples
    --------
    >>> is_limit("Max. dose"), is_limit("maximum"), is_limit("maxi cola")
    (True, True, False)
    """
    return _LIMIT.match(plain_heading(heading)) is not None


def _near(plain: str, names: tuple[str, ...]) -> str:
    """Offer the columns that a heading is short for or a slip of; nothing where none is near."""
    near = [name for name in names if name.startswith(f"{plain}_")] or close(plain, names, similar=_SLIP)
    return f" (did you mean {' or '.join(near)}?)" if near else ""
