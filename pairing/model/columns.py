"""The columns of every table: names, kinds, units and ranges, in one place.

Value objects check their fields against these, the store makes its tables from them, and the documentation prints them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from pairing.errors import TableError, nearest
from pairing.model.constants import MAX_SERVING_G
from pairing.quantities.constants import MAX_DOSE_G_PER_KG

__all__ = ["JUST_RIGHT", "LIKING_WORDS", "STRENGTH_WORDS", "TABLES", "Column", "TableSchema", "table_named"]

LIKING_WORDS = (
    "dislike extremely",
    "dislike very much",
    "dislike moderately",
    "dislike slightly",
    "neither like nor dislike",
    "like slightly",
    "like moderately",
    "like very much",
    "like extremely",
)
"""Words of the 9-point hedonic scale, 1 to 9 (Peryam & Pilgrim 1957, Food Technology 11)."""

STRENGTH_WORDS = ("not detected", "much too weak", "too weak", "just right", "too strong", "much too strong")
"""0 *not detected*, then the 5-point just-about-right scale, 1 to 5 (ASTM MNL63)."""
JUST_RIGHT = 3
"""Number of the strength word that a ladder looks for."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : str
        Column name; carries the unit.
    kind : str
        ``id``, ``text``, ``number``, ``integer``, ``choice``, ``words`` (``a;b``, ``none``),
        ``amounts`` (``a:1;b:2``), ``time`` (ISO 8601) or ``bytes`` (base64).
    required : bool
        The cell may not be empty.
    low, high : float or None
        Closed range of a number, or of each amount.
    choices : tuple of str
        Allowed words of a ``choice``.
    about : str
        What it means, for the documentation.
    """

    name: str
    kind: str = "text"
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    about: str = ""


@dataclass(frozen=True)
class TableSchema:
    """One table: its columns, and the columns that tell one row from another."""

    name: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    def __reduce__(self) -> tuple[type, tuple[object, ...]]:
        return type(self), (self.name, self.key, self.columns)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Column names, in order."""
        return tuple(c.name for c in self.columns)

    @cached_property
    def by_name(self) -> Mapping[str, Column]:
        """Columns by name."""
        return MappingProxyType({c.name: c for c in self.columns})


def _id(name: str, required: bool = True, about: str = "") -> Column:
    return Column(name, "id", required, about=about)


def _number(name: str, low: float | None = 0.0, high: float | None = None, about: str = "") -> Column:
    return Column(name, "number", low=low, high=high, about=about)


def _text(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name) for name in names)


_PARTS = ("fat", "protein", "carbohydrate", "sugars", "polyols", "fibre", "acids")

_ALLERGENS = (
    "declared allergens: milk;soy; none after reading the label, empty or ? is unknown. A word that is no known "
    "allergen meets only itself and leaves the declaration incomplete: whatever else is only avoided goes into tags"
)

BASES = TableSchema(
    "bases",
    ("base_id",),
    (
        _id("base_id"),
        Column("name", required=True),
        _id("version_of", False, "the base that this one is a new version or dilution of"),
        *_text("lot"),
        Column("made_from", "amounts", about="parts in g, as sold: oat-powder:90;water:350"),
        _number("energy_kcal_per_100g", high=900),
        *(_number(f"{part}_g_per_100g", high=100) for part in _PARTS),
        _number("sodium_mg_per_100g", high=40_000),
        _number("caffeine_mg_per_100g", high=100_000),
        _number("ethanol_g_per_100g", high=100),
        Column("sweeteners", "amounts", about="name:mg_per_100g"),
        _number("density_g_per_ml", low=0.2, high=3),
        _number("serving_g", low=1, high=MAX_SERVING_G),
        _number("cost_per_kg"),
        _number("ph", high=14),
        _number("viscosity_mpa_s", low=0.1),
        Column("allergens", "words", about=_ALLERGENS),
        Column("tags", "words"),
        *_text("source"),
    ),
)

FLAVOURINGS = TableSchema(
    "flavourings",
    ("flavouring_id",),
    (
        _id("flavouring_id"),
        Column("name", required=True),
        Column("label_dose", about="the supplier's direction as written"),
        _number("label_dose_g_per_kg", high=MAX_DOSE_G_PER_KG),
        _id("version_of", False),
        *_text("family", "form"),
        Column("carrier", "amounts", about="name, or name:g_per_g;…"),
        *_text("solubility"),
        Column("food_use", "choice", choices=("yes", "no", "unknown")),
        Column("sweetened", "choice", choices=("yes", "no", "unknown")),
        _number("density_g_per_ml", low=0.2, high=3),
        _number("drop_mg", low=0.1, high=500),
        _number("max_dose_g_per_kg", high=MAX_DOSE_G_PER_KG),
        _number("fat_loving", high=1, about="0 water-loving … 1 fat-loving"),
        _number("energy_kcal_per_g", high=9.5, about="also '35 kcal per 8 g'"),
        *(_number(f"{part}_g_per_g", high=1) for part in _PARTS),
        _number("sodium_mg_per_g", high=400),
        _number("caffeine_mg_per_g", high=1000),
        _number("ethanol_g_per_g", high=1),
        Column("sweeteners", "amounts", about="name:mg_per_g"),
        _number("cost_per_g"),
        _number("stock_g"),
        Column("allergens", "words", about=_ALLERGENS),
        Column("tags", "words"),
        *_text("source"),
        Column("role", "choice", choices=("flavour", "seasoning"), about="sweetener, salt and acid are seasonings"),
        Column("wheel", "words", about="three to five words of how it tastes: roast;caramel;nut"),
    ),
)

READINGS = TableSchema(
    "readings",
    ("trial_id", "taster", "reading", "flavouring_id"),
    (
        _id("trial_id"),
        _id("base_id"),
        _id("flavouring_id", False, "empty on the one row of a plain cup"),
        _number("dose_g_per_kg", high=MAX_DOSE_G_PER_KG),
        Column("amount", about="total so far: 11 drops, 3 ml, 1.2 g"),
        _number("base_g", low=0.1),
        _number("base_ml", low=0.1),
        Column("lot", about="the bottle or bag of the flavouring"),
        Column("reading", "integer", low=1, about="number of the moment within the cup"),
        _id("taster", False),
        Column("tasted_at", "time"),
        _id("session", False),
        Column("position", "integer", low=1, about="place in the session's serving order"),
        Column("blind", "choice", choices=("sighted", "coded")),
        Column("strength", "integer", low=0, high=5),
        Column("liking", "number", low=1, high=9),
        Column("likeness", "number", low=0, high=10),
        _id("target_id", False),
        Column("attributes", "amounts", high=5, about="overall:4;sweetness:5, on the strength scale"),
        Column("off_notes", about="bitter:1@aftertaste;…, 1 to 3"),
        *_text("reminds_of"),
        _number("temperature_c", low=-30, high=110),
        _number("minutes_since_addition"),
        *_text("mixing"),
        Column("stepped", "choice", choices=("yes", "no")),
        Column("ended", "choice", choices=("right", "too strong", "not reached", "spoiled", "unfinished")),
        *_text("note"),
        Column("chosen_by", "choice", choices=("own", "suggested", "random")),
        Column("glass", "choice", choices=("sip", "full"), about="how much of it was drunk before judging"),
    ),
)

STEPS = TableSchema(
    "steps",
    ("trial_id", "step"),
    (
        _id("trial_id"),
        Column("step", "integer", required=True, low=1),
        Column("kind", "choice", required=True, choices=("pour", "add", "mix", "rest", "sip", "split")),
        Column("at", "time"),
        _id("item_id", False, "base or flavouring"),
        *_text("lot"),
        _number("amount_g"),
        *_text("as_entered"),
        _id("taster", False),
        _id("parent_trial_id", False),
    ),
)

TASTERS = TableSchema(
    "tasters",
    ("taster",),
    (
        _id("taster"),
        Column("avoid_allergens", "words"),
        Column("avoid", "words", about="ethanol, caffeine, a tag, a flavouring or base id"),
        _number("body_mass_kg", low=2, high=400),
        _number("age_years", high=130),
        Column(
            "asks_professional", "choice", choices=("yes", "no", "unknown"), about="pregnancy, medical diet, medicines"
        ),
    ),
)

TARGETS = TableSchema(
    "targets",
    ("target_id",),
    (_id("target_id"), Column("name", required=True), *_text("description"), _id("reference_trial_id", False)),
)

COMPARISONS = TableSchema(
    "comparisons",
    ("check_id", "serving"),
    (
        _id("check_id"),
        Column("serving", "integer", required=True, low=1),
        Column("question", required=True, about="stronger, prefer, closer, or odd one out"),
        Column("left", required=True, about="trial or recipe on the left"),
        Column("right", required=True),
        Column("answer", required=True, about="left, right or tie"),
        _id("taster", False),
        Column("served_at", "time"),
    ),
)

CALIBRATIONS = TableSchema(
    "calibrations",
    ("flavouring_id", "lot", "at", "drops", "grams"),  # weighings are repeated, often without a time
    (
        _id("flavouring_id"),
        Column("drops", "integer", required=True, low=1),
        Column("grams", "number", required=True, low=0.001),
        *_text("lot"),
        Column("at", "time"),
    ),
)

LOTS = TableSchema(
    "lots",
    ("item_id", "lot"),
    (
        _id("item_id", about="base or flavouring"),
        _id("lot", about="one bottle or bag"),
        Column("size", about="as sold: 30 ml, 1 kg"),
        _number("tare_g", about="the empty bottle"),
        _number("price", about="of the whole, in the bench's currency"),
        Column("made_at", "time", about="of what is mixed here, and keeps for a while"),
        Column("bought_at", "time"),
        Column("opened_at", "time"),
        Column("best_before", "time", about="it may be duller after that day"),
        Column("use_by", "time", about="it may be unsafe after that day"),
        Column("emptied_at", "time"),
        *_text("note"),
    ),
)

WEIGHINGS = TableSchema(
    "weighings",
    ("item_id", "lot", "at"),
    (
        _id("item_id", about="base or flavouring"),
        _id("lot"),
        Column("at", "time", required=True),
        Column("gross_g", "number", required=True, low=0, about="bottle and what is in it"),
    ),
)

RECIPES = TableSchema(
    "recipes",
    ("recipe_id", "version"),
    (
        _id("recipe_id"),
        Column("version", "integer", required=True, low=1),
        _id("base_id"),
        Column("doses", required=True, about="g/kg of finished drink: quince=1.6;vanilla=2"),
        *_text("name"),
        Column("status", "choice", choices=("idea", "trying", "kept", "retired")),
        Column("parent", about="the recipe or trial that it was made from"),
        *_text("note"),
        Column("at", "time"),
    ),
)

PHOTOS = TableSchema(
    "photos",
    ("photo_id",),
    (
        _id("photo_id"),
        _id("item_id", about="base or flavouring"),
        Column("at", "time"),
        Column("bytes", "bytes", about="the picture, in base64"),
    ),
)

TABLES: Mapping[str, TableSchema] = MappingProxyType(
    {
        t.name: t
        for t in (
            *(BASES, FLAVOURINGS, READINGS, STEPS, TASTERS, TARGETS, COMPARISONS, CALIBRATIONS),
            *(LOTS, WEIGHINGS, RECIPES, PHOTOS),
        )
    }
)
"""Every table of the bench, by name."""


def table_named(name: str) -> TableSchema:
    """Return a table, or raise with the nearest names."""
    if name not in TABLES:
        raise TableError(f"no table {name!r}", nearest(name, TABLES))
    return TABLES[name]
