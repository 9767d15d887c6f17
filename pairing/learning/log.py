"""The log as arrays: one entry per reading, one slot per flavouring in the cup."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.errors import TableError, UnknownIdError, nearest
from pairing.learning.amounts import grams_of, grams_of_base
from pairing.model.arrays import Floats, Ints
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.recipes import Recipes
from pairing.model.served import Served

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf

__all__ = ["Log", "read_log", "with_doses"]


@dataclass(frozen=True)
class Log:
    """Readings as arrays; a reading is one taster, one cup, one moment.

    Attributes
    ----------
    recipes : Recipes
    strength : array, shape (n, k)
        0–5, NaN where not given.
    liking, likeness : array, shape (n,)
        NaN where not given.
    taster, cup, session, target : int array, shape (n,)
        Places in ``tasters``, ``trials``, ``sessions``, ``targets``; -1 where there is none.
    stepped : bool array, shape (n,)
        Whether the cup had been tasted at a lower dose before.
    order : int array, shape (n,)
        Place in time.
    source : int array, shape (n,)
        First row of the reading in the table that it came from.
    position : int array, shape (n,)
        Place in the serving order of a session, -1 where it is not known.
    minutes, temperature_c : array, shape (n,)
        Since the last addition, and of the cup; NaN where not known.
    full_glass : bool array, shape (n,)
        Whether a full glass was drunk, not a sip.
    chosen_by : object array, shape (n,)
        Who chose the cup: own, suggested, random, or None.
    coded : bool array, shape (n,)
        Whether it was served blind.
    off_notes : object array, shape (n,)
        Off-notes as they were written, or None.
    ended : mapping of cup to str
        How trials ended.
    lots : tuple of (str, str or None)
        Flavouring and lot of every number in ``recipes.lot``; what names no lot is one of its own, None, where other
        readings of that flavouring do, or one is in use now.
    notes : tuple of str
        What was assumed in reading amounts.
    """

    recipes: Recipes
    strength: Floats
    liking: Floats
    likeness: Floats
    taster: Ints
    cup: Ints
    session: Ints
    target: Ints
    stepped: np.ndarray[Any, np.dtype[np.bool_]]
    order: Ints
    source: Ints
    position: Ints
    minutes: Floats
    temperature_c: Floats
    full_glass: np.ndarray[Any, np.dtype[np.bool_]]
    chosen_by: np.ndarray[Any, np.dtype[np.object_]]
    coded: np.ndarray[Any, np.dtype[np.bool_]]
    off_notes: np.ndarray[Any, np.dtype[np.object_]]
    tasters: tuple[str, ...]
    trials: tuple[str, ...]
    sessions: tuple[str, ...]
    targets: tuple[str, ...]
    ended: Mapping[int, str] = field(default_factory=dict)
    lots: tuple[tuple[str, str | None], ...] = ()
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.taster)

    def take(self, rows: Any) -> Log:
        """Return some of the readings, with the same places."""
        arrays = {
            f.name: getattr(self, f.name)[rows] for f in fields(self) if isinstance(getattr(self, f.name), np.ndarray)
        }
        return replace(self, recipes=self.recipes.take(rows), **arrays)


def read_log(shelf: Shelf, readings: pd.DataFrame) -> Log:
    """Turn a clean readings table into arrays.

    Parameters
    ----------
    shelf : Shelf
    readings : DataFrame
        One row per flavouring per reading; ``dose_g_per_kg`` or ``amount`` with the base's mass.
    """
    table = readings.reset_index(drop=True)
    trial, trials = pd.factorize(table["trial_id"])
    taster, tasters = _codes(table, "taster", DEFAULT_TASTER)
    moment = _moments(table, trial, taster)
    key = (trial.astype(np.int64) * (len(tasters) + 1) + taster) * (int(moment.max(initial=0)) + 1) + moment
    group, first = _groups(key)
    base = _places(table["base_id"], shelf.base_places, "base")
    flavouring = _places(table["flavouring_id"], shelf.flavouring_places, "flavouring")
    dose, notes = _doses(table, shelf, flavouring, base, group)
    used = (flavouring >= 0) & (dose > 0)
    slot = _slots(group, used)
    shape = (len(first), int(slot.max(initial=-1)) + 1)
    slots, doses, strength = np.full(shape, -1, np.int64), np.full(shape, np.nan), np.full(shape, np.nan)
    at = group[used], slot[used]
    slots[at], doses[at], strength[at] = flavouring[used], dose[used], _numbers(table, "strength")[used]
    numbered, lots = _lots(table, flavouring, shelf)
    lot = None if numbered is None else np.full(shape, -1, np.int64)
    if lot is not None and numbered is not None:
        lot[at] = numbered[used]
    session, sessions = _codes(table, "session", None)
    target, targets = _codes(table, "target_id", None)
    return Log(
        recipes=Recipes(
            base[first], slots, doses, _served(table, first, _lot_age_days(table, shelf, group, len(first))), lot
        ),
        strength=strength,
        liking=_first_number(_numbers(table, "liking"), group, len(first)),
        likeness=_first_number(_numbers(table, "likeness"), group, len(first)),
        taster=taster[first],
        cup=trial[first].astype(np.int64),
        session=session[first],
        target=target[first],
        stepped=_stepped(table, trial, taster, moment, dose, group, first),
        order=_order(table, first),
        source=first,
        position=np.nan_to_num(_numbers(table, "position"), nan=-1.0)[first].astype(np.int64),
        minutes=_numbers(table, "minutes_since_addition")[first],
        temperature_c=_numbers(table, "temperature_c")[first],
        full_glass=_texts(table, "glass")[first] == "full",
        chosen_by=_texts(table, "chosen_by")[first],
        coded=_texts(table, "blind")[first] == "coded",
        off_notes=_together(_texts(table, "off_notes"), group, first),
        tasters=tasters,
        trials=tuple(map(str, trials)),
        sessions=sessions,
        targets=targets,
        ended=_ended(table, trial),
        lots=lots,
        notes=tuple(notes),
    )


def with_doses(readings: pd.DataFrame, shelf: Shelf) -> pd.DataFrame:
    """Return kept readings with every dose in g/kg of finished drink, also what was told as an amount."""
    table = readings.reset_index(drop=True)
    base = _places(table["base_id"], shelf.base_places, "base")
    flavouring = _places(table["flavouring_id"], shelf.flavouring_places, "flavouring")
    group = np.asarray(table.groupby(["trial_id", "taster", "reading"], dropna=False).ngroup(), np.int64)
    return table.assign(dose_g_per_kg=_doses(table, shelf, flavouring, base, group)[0])


def _served(table: pd.DataFrame, first: Ints, lot_age_days: Floats) -> Served | None:
    """How each cup was served; None where nobody wrote any of it down."""
    degrees, minutes = (_numbers(table, name)[first] for name in ("temperature_c", "minutes_since_addition"))
    mixing = _texts(table, "mixing")[first]
    numbers = (degrees, minutes, lot_age_days)
    if all(np.isnan(column).all() for column in numbers) and not pd.notna(mixing).any():
        return None
    return Served(*numbers, np.where(pd.notna(mixing), mixing, None))


def _lot_age_days(table: pd.DataFrame, shelf: Shelf, group: Ints, n: int) -> Floats:
    """Days from the opening of the oldest lot of each cup to its tasting; NaN where one of the two is not known."""
    oldest, lot, tasted = np.full(n, np.nan), _column(table, "lot"), _column(table, "tasted_at")
    if not shelf.opened or lot is None or tasted is None:
        return oldest
    opened = [shelf.opened.get(pair) for pair in zip(table["flavouring_id"], lot, strict=True)]
    at, since = (pd.to_datetime(pd.Series(times), utc=True, format="ISO8601") for times in (tasted, opened))
    days = ((at - since) / pd.Timedelta(days=1)).to_numpy()
    days = np.where(days > -1, np.fmax(days, 0.0), np.nan)  # of a day alone the hour is not known
    np.fmax.at(oldest, group, days)
    return oldest


def _column(table: pd.DataFrame, name: str) -> Any:
    return table[name] if name in table.columns else None


def _numbers(table: pd.DataFrame, name: str) -> Floats:
    column = _column(table, name)
    return np.full(len(table), np.nan) if column is None else column.to_numpy(dtype=np.float64, na_value=np.nan)


def _texts(table: pd.DataFrame, name: str) -> Any:
    column = _column(table, name)
    return np.full(len(table), None, object) if column is None else column.to_numpy(dtype=object)


def _codes(table: pd.DataFrame, name: str, default: str | None) -> tuple[Ints, tuple[str, ...]]:
    column = _column(table, name)
    if column is None:
        n = len(table)
        return (np.zeros(n, np.int64), (default,)) if default else (np.full(n, -1, np.int64), ())
    code, names = pd.factorize(column.fillna(default) if default else column, sort=name == "taster")
    return code.astype(np.int64), tuple(map(str, names))


def _lots(
    table: pd.DataFrame, flavouring: Ints, shelf: Shelf
) -> tuple[Ints | None, tuple[tuple[str, str | None], ...]]:
    """Give every lot of the flavourings that have any a number, in the order of the table; and name them."""
    code, names = pd.factorize(_texts(table, "lot"))
    some = np.unique(flavouring[code >= 0])
    in_use = [place for name, place in shelf.flavouring_places.items() if name in shelf.lot_in_use]
    if not len(some) and not in_use:
        return None, ()
    has = (flavouring >= 0) & np.isin(flavouring, np.append(some, in_use))
    numbered = np.full(len(table), -1, np.int64)
    numbered[has], keys = pd.factorize(flavouring[has] * (len(names) + 1) + code[has] + 1)
    ids, told = list(shelf.flavourings), [None, *map(str, names)]
    return numbered, tuple((ids[key // len(told)], told[key % len(told)]) for key in keys.tolist())


def _places(column: pd.Series, index: Mapping[str, int], what: str) -> Ints:
    code, names = pd.factorize(column)
    for name in names:
        if name not in index:
            raise UnknownIdError(f"the log has {what} {name!r}, which is not on the shelf", nearest(str(name), index))
    lookup = np.array([*(index[name] for name in names), -1], np.int64)
    return lookup[code]


def _moments(table: pd.DataFrame, trial: Any, taster: Ints) -> Ints:
    """Return the readings' numbers as given; where empty, the order of appearance of a repeated flavouring."""
    given = _numbers(table, "reading")
    if not np.isnan(given).any():
        return given.astype(np.int64)
    again = table.assign(_t=trial, _w=taster).groupby(["_t", "_w", "flavouring_id"], dropna=False).cumcount()
    return np.where(np.isnan(given), again.to_numpy() + 1, given).astype(np.int64)


def _groups(key: Ints) -> tuple[Ints, Ints]:
    """Group numbers in order of first appearance, and the first row of each group."""
    group, _ = pd.factorize(key)
    first = np.full(int(group.max(initial=-1)) + 1, -1, np.int64)
    first[group[::-1]] = np.arange(len(group))[::-1]
    return group.astype(np.int64), first


def _slots(group: Ints, used: Any) -> Ints:
    """Give a running number to each used row within its group."""
    slot = np.full(len(group), -1, np.int64)
    rows = np.flatnonzero(used)
    order = rows[np.argsort(group[rows], kind="stable")]
    sorted_group = group[order]
    start = np.flatnonzero(np.r_[True, sorted_group[1:] != sorted_group[:-1]]) if len(order) else np.empty(0, np.int64)
    length = np.diff(np.r_[start, len(order)])
    slot[order] = np.arange(len(order)) - np.repeat(start, length)
    return slot


def _doses(table: pd.DataFrame, shelf: Shelf, flavouring: Ints, base: Ints, group: Ints) -> tuple[Floats, list[str]]:
    """g/kg of every row, from the dose or from amounts and the base's mass."""
    dose = _numbers(table, "dose_g_per_kg")
    amount = _texts(table, "amount")
    need = np.isnan(dose) & (flavouring >= 0)
    if not need.any():
        return dose, []

    grams, volume = np.zeros(len(table)), np.zeros(len(table), dtype=bool)
    rows = np.flatnonzero(need)
    grams[rows], volume[rows], notes = grams_of(amount[rows], flavouring[rows], _texts(table, "lot")[rows], shelf)
    base_g = grams_of_base(table, shelf, base, volume)
    by_dose = np.bincount(group, np.where(need, 0.0, np.nan_to_num(dose)))[group] / 1000.0
    finished_g = (base_g + np.bincount(group, grams)[group]) / np.maximum(1.0 - by_dose, 1e-3)
    bad = need & (np.isnan(base_g) | np.isnan(grams))
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise TableError(
            f"row {row + 1} of the readings has neither a dose nor an amount with the base's mass",
            "give dose_g_per_kg, or amount with base_g or base_ml",
        )
    return np.where(need, 1000.0 * grams / np.where(need, finished_g, 1.0), dose), notes


def _first_number(values: Floats, group: Ints, n: int) -> Floats:
    out = np.full(n, np.nan)
    rows = np.flatnonzero(~np.isnan(values))[::-1]
    out[group[rows]] = values[rows]
    return out


def _together(texts: Any, group: Ints, first: Ints) -> Any:
    """Return what the rows of each reading say, each text once, joined as in a cell."""
    out = texts[first].copy()
    found: dict[int, dict[str, None]] = {}
    for i in np.flatnonzero([isinstance(text, str) for text in texts]):
        found.setdefault(int(group[i]), {})[texts[i]] = None
    for place, said in found.items():
        out[place] = ";".join(said)
    return out


def _stepped(
    table: pd.DataFrame, trial: Any, taster: Ints, moment: Ints, dose: Floats, group: Ints, first: Ints
) -> Any:
    """As given; where it is empty, whether this taster had this cup before with less in it."""
    word = _texts(table, "stepped")[first]
    total = np.bincount(group, np.nan_to_num(dose))
    frame = pd.DataFrame({"t": trial[first], "w": taster[first], "m": moment[first], "d": total})
    lowest = frame.sort_values("m", kind="stable").groupby(["t", "w"])["d"].cummin().sort_index()
    derived = total > lowest.to_numpy() * 1.001
    return np.where(word == "yes", True, np.where(word == "no", False, derived)).astype(bool)


def _order(table: pd.DataFrame, first: Ints) -> Ints:
    """Place in time: by ``tasted_at`` where every reading has one, else as listed."""
    times = _texts(table, "tasted_at")[first]
    if len(times) and all(isinstance(t, str) for t in times):
        return np.argsort(np.argsort(times.astype(str), kind="stable"), kind="stable").astype(np.int64)
    return np.arange(len(first), dtype=np.int64)


def _ended(table: pd.DataFrame, trial: Any) -> dict[int, str]:
    if (column := _column(table, "ended")) is None:
        return {}
    told = column.notna().to_numpy()
    return dict(zip(trial[told].tolist(), column[told].tolist(), strict=True))
