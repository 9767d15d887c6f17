"""What a heading does not tell alone, its cells or the column beside it do: drops, the price of a bottle, an energy."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import QuantityError, first_few
from pairing.model.columns import TABLES
from pairing.quantities.amounts import parse_amount
from pairing.store.headings import match_headings, plain_heading
from pairing.store.problems import Problems
from pairing.store.raw import is_blank, objects

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["UNITS", "told_beside", "with_unit"]

UNITS = {
    "drops": "drops", "drop": "drops", "number_of_drops": "drops", "total_drops": "drops", "amount_drops": "drops",
    "g": "g", "amount_g": "g", "ml": "ml", "amount_ml": "ml",
}  # fmt: skip
"""Headings of an amount that name nothing but its unit."""
_POURED = ("how_much", "cup_size", "size_of_cup", "glass")
"""Headings of how much base there was, where another column holds the flavouring's amount."""
_LEAST_BASE = 20.0
"""Grams or ml that are no flavouring's amount any more (our choice)."""
_SIZE = re.compile(r"(?:bottle|pack|(?:bottle_|pack_|net_)?(?:size|contents?|weight|volume))(?:_(k?g|m?l))?")
_BARE_COST = re.compile(r"cost(?:_eur|_usd|_gbp)?(?:_per_(l|litre|liter))?")
_PER = re.compile(r"/|\bper\b", re.IGNORECASE)
_NUMBER = re.compile(r"[\d.,]+")
_MEASURED = re.compile(r"\d\s*[^\W\d_]")
_LETTER = re.compile(r"[^\W\d_]")
_HAS_UNIT = re.compile(r"\d.*(?:kcal|kj)", re.IGNORECASE)
_MOST_PER_G = 1.0
"""No flavouring is taken to cost more than this per g where nobody says that it does: a bottle does (our choice)."""


def told_beside(table: str, frame: pd.DataFrame, problems: Problems) -> pd.DataFrame:
    """Give columns the name of ours that their cells, or a column beside them, show them to be; say so.

    Examples
    --------
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"Name": ["Fig"], "Price": ["6.90"], "Size": ["30 ml"]})
    >>> told_beside("flavourings", frame, Problems())["cost_per_g"].tolist()
    ['6.90 EUR per 30 ml']
    """
    told = {"readings": _amounts, "flavourings": _prices, "bases": _prices}.get(table)
    if told is None:
        return frame
    plain = {plain_heading(heading): heading for heading in reversed(frame.columns)}
    made = _energy(table, told(table, frame, plain, problems), plain, problems)
    made.attrs = frame.attrs
    return made


def with_unit(cells: pd.Series, unit: str) -> pd.Series:
    """Put a heading's unit behind its bare numbers."""
    if not unit:
        return cells
    texts = cells.map(lambda cell: f"{cell:g}" if isinstance(cell, float) else str(cell).strip())
    return cells.where(~texts.str.fullmatch(_NUMBER.pattern), texts + f" {unit}")


def _amounts(table: str, frame: pd.DataFrame, plain: Mapping[str, Any], problems: Problems) -> pd.DataFrame:
    """Read a column of drops, g or ml as the amount, where no other holds it and it is not how much base there was."""
    frame = _poured(frame, plain, problems)
    found = match_headings(TABLES[table], list(frame.columns))[0]
    base = {"base_g", "base_ml"} & found.keys()
    ours = {plain[name]: unit for name, unit in UNITS.items() if name in plain and (base or unit == "drops")}
    if "dose" in plain and not ours and _all_measured(frame[plain["dose"]]):
        ours = {plain["dose"]: ""}
    if not ours or {"amount", "dose_g_per_kg"} & found.keys():
        return frame
    amount = np.full(len(frame), None, dtype=object)
    for heading, unit in ours.items():
        cells = objects(with_unit(frame[heading].astype(object), unit))
        amount = np.where(is_blank(amount), cells, amount)
    problems.note(f"read of {first_few(map(str, ours))}: what is in the cup so far, not what was added last", "amount")
    return frame.drop(columns=list(ours)).assign(amount=amount)


def _poured(frame: pd.DataFrame, plain: Mapping[str, Any], problems: Problems) -> pd.DataFrame:
    """Read a plain heading such as *How much* as the base, where another holds the amount and its cells are masses."""
    found = match_headings(TABLES["readings"], list(frame.columns))[0]
    heading = next((plain[name] for name in _POURED if name in plain), None)
    held = "drops" in plain or ("amount" in found and found["amount"].source != heading)
    if heading is None or not held or {"base_g", "base_ml"} & found.keys():
        return frame
    cells = objects(frame[heading])
    said = {str(cell) for cell in cells[~is_blank(cells)]}
    bare = {cell for cell in said if _NUMBER.fullmatch(cell.strip())}
    try:
        amounts = [parse_amount(cell) for cell in said - bare]
    except QuantityError:
        return frame
    units = {amount.unit for amount in amounts}
    small = any(amount.value < _LEAST_BASE for amount in amounts)
    if small or not units or not units <= {"g", "ml"} or (bare and len(units) > 1):
        return frame
    column = f"base_{units.pop()}" if len(units) == 1 else "base_g"
    problems.note(f"column {str(heading)!r} is read as {column}: another holds the amount", "readings")
    return frame.rename(columns={heading: column})


def _all_measured(cells: pd.Series) -> bool:
    """Tell whether every cell that says something says an amount: 4 drops, and not 4 or 4 g/kg."""
    said = [str(cell) for cell in objects(cells)[~is_blank(objects(cells))]]
    return bool(said) and all(_MEASURED.search(cell) and not _PER.search(cell) for cell in said)


def _prices(table: str, frame: pd.DataFrame, plain: Mapping[str, Any], problems: Problems) -> pd.DataFrame:
    """Read a bare price as that of the size beside it; without one, as no price where it can only be a bottle's."""
    column = "cost_per_g" if table == "flavourings" else "cost_per_kg"
    priced = ((heading, said[1]) for name, heading in plain.items() if (said := _BARE_COST.fullmatch(name)))
    price, litre = next(priced, (None, None))
    if price is None or column in frame.columns:
        return frame
    cells = objects(frame[price])
    open_ = np.flatnonzero(~is_blank(cells) & ~np.array([bool(_PER.search(str(cell))) for cell in cells], dtype=bool))
    sizes = [(heading, said[1] or "") for name, heading in plain.items() if (said := _SIZE.fullmatch(name))]
    if len(open_) and (litre or sizes):
        beside = [] if litre else [sizes[0][0]]
        size = np.full(len(frame), "1 l") if litre else objects(with_unit(frame[beside[0]].astype(object), sizes[0][1]))
        known = [bool(_MEASURED.search(str(cell))) for cell in size]
        made = cells.copy()
        made[open_] = [_per(cells[i], size[i]) if known[i] else None for i in open_]
        of = f" as that of the {str(beside[0])!r} beside it" if beside else f" as {column}"
        problems.note(f"{str(price)!r} is read{of}", column)
        return frame.drop(columns=[price, *beside]).assign(**{column: made})
    dear = [cell for cell in cells[open_] if table == "flavourings" and _figure(cell) > _MOST_PER_G]
    if not dear:
        return frame
    remedy = "write '6.90 EUR per 30 ml', or add a column Size; per g, name it cost_per_g"
    problems.note(f"{str(price)!r} is not used, as {dear[0]} looks like the price of a bottle: {remedy}", column)
    return frame.drop(columns=[price])


def _per(price: Any, size: Any) -> Any:
    """Write a price as that of a size; what holds no number stays as it is."""
    said = str(price).strip(" €$£")
    if not re.search(r"\d", said):
        return price
    currency = "" if _LETTER.search(said) else " EUR"
    return f"{said}{currency} per {str(size).strip()}"


def _figure(cell: Any) -> float:
    """Return about how much a cell says; 0 where it holds no number."""
    found = _NUMBER.search(str(cell))
    try:
        return float(found[0].replace(",", ".")) if found else 0.0
    except ValueError:
        return 0.0


def _energy(table: str, frame: pd.DataFrame, plain: Mapping[str, Any], problems: Problems) -> pd.DataFrame:
    """Read a column *Energy* whose cells all name their unit; of a flavouring also what it is per."""
    column = "energy_kcal_per_100g" if table == "bases" else "energy_kcal_per_g"
    if table == "readings" or "energy" not in plain or column in match_headings(TABLES[table], list(frame.columns))[0]:
        return frame
    cells = objects(frame[plain["energy"]])
    said = [str(cell) for cell in cells[~is_blank(cells)] if re.search(r"\d", str(cell))]
    if not said or not all(_HAS_UNIT.search(cell) and (table == "bases" or _PER.search(cell)) for cell in said):
        return frame
    problems.note(f"column {str(plain['energy'])!r} is read as {column}: name the unit in the heading if it is another")
    return frame.rename(columns={plain["energy"]: column})
