"""What is odd in readings that come in: amounts, totals and names that may be slips, each with its rows in the file.

All of it is taken as it stands: a note asks, it refuses nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import first_few
from pairing.quantities.amounts import amount_to_g, parse_amount
from pairing.quantities.bottle import Bottle
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.quantities.directions import label_dose
from pairing.quantities.drops import drop_mass, is_liquid
from pairing.quantities.readable import readable
from pairing.store.notes import Note
from pairing.store.rules import key_codes

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["differ_by_case", "odd_readings", "taken_out"]

MANY_DROPS = 20
"""More drops than this are worth a weighing: nobody counts them without a slip (our choice)."""
TIMES_LABEL, PART_OF_LABEL = 10.0, 50.0
"""So many times the label, or so small a part of it, is queried (our choice)."""
MOST_G_PER_KG = 250.0
"""A quarter of the drink is queried, whatever the label says (our choice)."""
_NO_DOSE = 1e-9
"""g/kg below which a label says nothing to compare with (our choice)."""
_SHOWN = 5


def odd_readings(
    table: pd.DataFrame, numbers: np.ndarray, shelf: Shelf, known: Mapping[str, Iterable[str]] = MappingProxyType({})
) -> list[Note]:
    """Note what is odd in readings, a note per flavouring or per row, up to five of a kind.

    Parameters
    ----------
    table : pandas.DataFrame
        Canonical readings.
    numbers : array
        The rows of the file that they stand in.
    shelf : Shelf
        Every base and flavouring that they name.
    known : mapping of column to texts
        Ids that are kept already: new ones that differ from them by case only are noted.
    """
    if not len(table):
        return []
    amounts = _Amounts(table, shelf)
    found = (
        _no_drops(amounts, numbers),
        _many_drops(amounts, numbers),
        _no_density(amounts, numbers),
        _falling(table, amounts, numbers),
        _far_from_label(table, amounts, numbers, shelf),
    )
    notes = [Note(text, "readings") for texts in found for text in texts]
    return notes + [
        note
        for name in ("trial_id", "taster", "session")
        for note in differ_by_case(table[name], name, known.get(name, ()))
    ]


_APART = "differ only in capitals and count as two: if one is meant, undo, and load anew"


def differ_by_case(ids: Iterable[Any], column: str, known: Iterable[str] = ()) -> list[Note]:
    """Note ids that differ from one another, or from known ones, only in capitals.

    Examples
    --------
    >>> differ_by_case(["ana", "Ana", None], "taster")
    ["taster: 'Ana' and 'ana' differ only in capitals and count as two: if one is meant, undo, and load anew"]
    """
    import pandas as pd

    ours = [name for name in pd.unique(np.asarray(ids, dtype=object)) if isinstance(name, str)]
    seen = set(ours)
    names = np.array([*ours, *(name for name in known if name not in seen)], dtype=object)
    plain = pd.Series([name.casefold() for name in names], dtype=object)
    twice = plain.duplicated(keep=False).to_numpy()
    mine = set(plain[: len(ours)][twice[: len(ours)]])
    odd = [sorted(names[twice & (plain == one).to_numpy()]) for one in sorted(mine)[:_SHOWN]]
    return [Note(f"{' and '.join(map(repr, one))} {_APART}", column) for one in odd]


def taken_out(removed: pd.DataFrame) -> tuple[Note, ...]:
    """Say which rows are gone because their reading no longer lists them."""
    if removed.empty:
        return ()
    named = [
        f"{f or 'the plain cup'} of trial {t}"
        for f, t in zip(removed["flavouring_id"], removed["trial_id"], strict=True)
    ]
    return (Note(f"taken out, as their readings no longer list them: {first_few(named)}", "readings"),)


class _Amounts:
    """The amounts of a table as columns: number, unit and mass, and which flavouring each is of."""

    def __init__(self, table: pd.DataFrame, shelf: Shelf) -> None:
        import pandas as pd

        codes, texts = pd.factorize(table["amount"].to_numpy(dtype=object))
        item, ids = pd.factorize(table["flavouring_id"].to_numpy(dtype=object))
        self.bottles = [shelf.flavouring(name) for name in ids]
        self.ids, self.item, self.text = list(ids), item, table["amount"].to_numpy(dtype=object)
        read = [parse_amount(text) for text in texts]
        self.number = np.array([*(a.value for a in read), np.nan])[codes]
        self.unit = np.array([*(a.unit for a in read), ""], dtype=object)[codes]
        pair = key_codes([codes + 1, item + 1])
        _, first = np.unique(pair, return_index=True)
        mass = [
            amount_to_g(read[codes[i]], self.bottles[item[i]]) if codes[i] >= 0 <= item[i] else np.nan for i in first
        ]
        self.g = np.array(mass)[pair]

    def of(self, rows: np.ndarray) -> Iterator[tuple[str, Bottle, np.ndarray]]:
        """Return each flavouring among masked rows, with its rows."""
        for place in np.unique(self.item[rows & (self.item >= 0)])[:_SHOWN]:
            yield self.ids[place], self.bottles[place], np.flatnonzero(rows & (self.item == place))


def _rows(numbers: np.ndarray, at: np.ndarray) -> str:
    return f"{'row' if len(at) == 1 else 'rows'} {first_few(numbers[at], 3)}"


def _no_drops(amounts: _Amounts, numbers: np.ndarray) -> Iterator[str]:
    for name, bottle, at in amounts.of(amounts.unit == "drop"):
        if is_liquid(bottle) is False:
            yield f"{_rows(numbers, at)} count drops of {name!r}, which is no liquid: write g if it was weighed"


def _many_drops(amounts: _Amounts, numbers: np.ndarray) -> Iterator[str]:
    for name, bottle, at in amounts.of((amounts.unit == "drop") & (amounts.number > MANY_DROPS)):
        drop = drop_mass(bottle)
        if not drop.calibrated:
            most = at[np.argmax(amounts.number[at])]
            ends = (readable(amounts.number[most] * mg / 1000, 2) for mg in (drop.low, drop.high))
            yield (
                f"{amounts.text[most]} of {name!r} in {_rows(numbers, at)} may be {' to '.join(ends)} g, as its "
                f"drops were not weighed: pairing calibrate {name} 20=GRAMS"
            )


def _no_density(amounts: _Amounts, numbers: np.ndarray) -> Iterator[str]:
    for name, bottle, at in amounts.of(amounts.unit == "ml"):
        if bottle.density_g_per_ml is None:
            spoon = "; a spoon of powder may weigh half of that" if is_liquid(bottle) is False else ""
            yield (
                f"{amounts.text[at[0]]} of {name!r} in {_rows(numbers, at)} counts 1.00 g per ml, as its density is "
                f"not known{spoon}: give density_g_per_ml, or write g"
            )


def _falling(table: pd.DataFrame, amounts: _Amounts, numbers: np.ndarray) -> Iterator[str]:
    """Find totals that are less than in the reading of the same taster and cup before."""
    import pandas as pd

    cup = key_codes([pd.factorize(table[name])[0] + 1 for name in ("trial_id", "taster", "flavouring_id")])
    order = np.lexsort((table["reading"].to_numpy(), cup))
    before, after = order[:-1], order[1:]
    fell = (cup[before] == cup[after]) & (amounts.unit[before] == amounts.unit[after])
    fell &= amounts.number[after] < amounts.number[before]
    for i, k in [*zip(before[fell], after[fell], strict=True)][:_SHOWN]:
        yield (
            f"row {numbers[k]}: {amounts.ids[amounts.item[k]]!r} falls from {amounts.text[i]} (row {numbers[i]}) to "
            f"{amounts.text[k]} within cup {table['trial_id'].iloc[k]!r}: an amount is the total so far"
        )


def _far_from_label(table: pd.DataFrame, amounts: _Amounts, numbers: np.ndarray, shelf: Shelf) -> Iterator[str]:
    import pandas as pd

    place, bases = pd.factorize(table["base_id"])
    drinks = [shelf.base(name) for name in bases]
    dose = _dose_g_per_kg(table, amounts, [d.density_g_per_ml for d in drinks], place)
    pair = key_codes([place + 1, amounts.item + 1])
    _, first = np.unique(pair, return_index=True)
    labels = [
        label_dose(amounts.bottles[amounts.item[i]], drinks[place[i]]) if amounts.item[i] >= 0 else None for i in first
    ]
    label = np.array([np.nan if said is None or said.mid < _NO_DOSE else said.mid for said in labels])[pair]
    far = (dose > MOST_G_PER_KG) | (dose > TIMES_LABEL * label) | ((dose > 0) & (dose < label / PART_OF_LABEL))
    for i in np.flatnonzero(far)[:_SHOWN]:
        times = "" if np.isnan(label[i]) else f", {readable(dose[i] / label[i], 2)} × the label ({label[i]:.3g} g/kg)"
        yield (
            f"row {numbers[i]}: cup {table['trial_id'].iloc[i]!r} has {dose[i]:.4g} g/kg of "
            f"{table['flavouring_id'].iloc[i]!r}{times}: check the unit and the decimal point"
        )
    if (more := int(far.sum()) - _SHOWN) > 0:
        yield f"{more} more doses are far from their labels"


def _dose_g_per_kg(
    table: pd.DataFrame, amounts: _Amounts, density: list[float | None], place: np.ndarray
) -> np.ndarray:
    """Doses of finished drink, as written or from the amounts in the cup and what was poured."""
    import pandas as pd

    per_ml = np.array([DEFAULT_DENSITY_G_PER_ML if one is None else one for one in density])[place]
    base_g = table["base_g"].to_numpy()
    base_g = np.where(np.isnan(base_g), table["base_ml"].to_numpy() * per_ml, base_g)
    reading = key_codes([pd.factorize(table[name])[0] + 1 for name in ("trial_id", "taster", "reading")])
    added_g = np.bincount(reading, weights=np.nan_to_num(amounts.g))[reading]
    written = table["dose_g_per_kg"].to_numpy()
    return np.asarray(np.where(np.isnan(written), 1000 * amounts.g / (base_g + added_g), written))
