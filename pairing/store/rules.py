"""What rows of a table must agree on with one another: numbering, one base per cup, whole readings, keys."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np

from pairing.errors import PairingError, QuantityError, first_few, nearest, or_else
from pairing.model.called import called, names_of, offer
from pairing.model.columns import FLAVOURINGS
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.fields import is_missing, is_not_stated
from pairing.model.flavouring import Flavouring
from pairing.quantities.constants import MAX_DOSE_G_PER_KG
from pairing.quantities.directions import Direction, parse_direction
from pairing.store.problems import Problems, RowsOf
from pairing.store.raw import absent, factorized

__all__ = [
    "REFERS",
    "check_calibrations",
    "check_flavourings",
    "check_readings",
    "check_references",
    "find_copies",
    "key_codes",
    "note_parents",
    "refuse_whole_readings",
]

REFERS: Mapping[str, Mapping[str, str]] = {
    "readings": {"base_id": "bases", "flavouring_id": "flavourings", "target_id": "targets"},
    "steps": {"item_id": "bases+flavourings"},
    "calibrations": {"flavouring_id": "flavourings"},
    "lots": {"item_id": "bases+flavourings"},
    "weighings": {"item_id": "bases+flavourings"},
    "recipes": {"base_id": "bases"},
    "photos": {"item_id": "bases+flavourings"},
}
"""Which column of which table must name a row of which other table."""
_NAMED_NEAREST = 50
"""Unknown ids that are told which known one is nearest, which takes time in a long list (our choice)."""


class Data(dict[str, np.ndarray]):
    """Columns by name, with the numbers that stand for their distinct values where these are known already."""

    def __init__(self) -> None:
        super().__init__()
        self.known: dict[str, np.ndarray] = {}

    def codes(self, name: str) -> np.ndarray:
        """Return the same number for the same value, 0 where missing."""
        if name not in self.known:
            return _codes(self[name])
        return self.known[name]


def _codes(values: np.ndarray) -> np.ndarray:
    return factorized(values)[0].astype(np.int64) + 1


def key_codes(columns: Sequence[np.ndarray]) -> np.ndarray:
    """Give rows that agree in all columns of codes the same number, counted from 0 in order of appearance."""
    out = np.zeros(len(columns[0]), dtype=np.int64)
    for codes in columns:
        n = int(codes.max(initial=0)) + 1
        if n > 1:
            out = factorized(out * n + codes)[0].astype(np.int64)
    return out


def _first_rows(codes: np.ndarray) -> np.ndarray:
    """Return the position of the first row of every code, first to last."""
    first = _first_of(codes, np.arange(len(codes)), int(codes.max(initial=-1)) + 1, none=-1)
    return np.sort(first[first >= 0])


def _first_of(codes: np.ndarray, values: np.ndarray, n: int, none: int = 0) -> np.ndarray:
    """Return, per code, the value of its first row."""
    first = np.full(n, none, dtype=values.dtype)
    first[codes[::-1]] = values[::-1]
    return first


def check_flavourings(data: Data, problems: Problems) -> None:
    """Refuse flavourings whose label direction cannot be read; note those without any."""
    unsaid = [i for i, text in enumerate(data["label_dose"]) if is_not_stated(text)]
    if unsaid:
        data["label_dose"] = data["label_dose"].copy()
        data["label_dose"][unsaid] = None
        data.known.pop("label_dose", None)
    missing = problems.first_time(np.flatnonzero(absent(data["label_dose"]) & np.isnan(data["label_dose_g_per_kg"])))
    if missing:
        which = first_few(f"{data['flavouring_id'][i]} (row {problems.numbers[i]})" for i in missing)
        problems.note(f"empty for {which}: its dose is a wide guess by form; better copy the direction", "label_dose")
    _check_labels(data, problems)


def _check_labels(data: Data, problems: Problems) -> None:
    """Refuse label directions that cannot be read, where no dose in g/kg stands beside them; tell how they are read."""
    codes, texts = data.codes("label_dose"), data["label_dose"]
    alone = np.isnan(data["label_dose_g_per_kg"])
    read: list[Direction] = []
    guessed: list[str] = []
    for i in np.unique(_first_of(codes, np.arange(len(codes)), int(codes.max(initial=0)) + 1)[codes]):
        if not texts[i]:
            continue
        same = codes == codes[i]
        try:
            said = parse_direction(texts[i], _bottle(data, i))
        except QuantityError as error:
            problems.refuse(np.flatnonzero(same & alone), "label_dose", texts[i], error.message, error.hint)
            if (same & ~alone).any():
                problems.note(f"label_dose {texts[i]!r} is kept as text; label_dose_g_per_kg counts")
            continue
        if (same & alone).any():
            read.append(said)
        if said.by_drops:
            guessed += [data["flavouring_id"][k] for k in np.flatnonzero(same & alone & np.isnan(data["drop_mg"]))]
    if guessed:
        each = "a drop is taken by its carrier, else for 35 mg: weigh some with pairing calibrate"
        problems.note(f"empty for {first_few(guessed)}, which a label counts in drops: {each}", "drop_mg")
    for said in sorted(read, key=lambda direction: -direction.high):
        if said.doubtful:
            problems.note(f"{said.as_written!r}: {said.assumptions[0]}", "label_dose")
        problems.note(f"{said.as_written!r} is read as {said.understood}", "label_dose", example=True)


def _bottle(data: Data, i: int) -> Flavouring | None:
    """Return what a row says of a bottle, as far as a direction asks for it; None where it is refused."""
    facts = {name: data[name][i] for name in ("form", "carrier", "drop_mg", "density_g_per_ml")}
    try:
        return Flavouring(flavouring_id="this", name="this", **facts)
    except PairingError:
        return None


def check_calibrations(data: Data, problems: Problems) -> None:
    """Refuse weighings of drops that no flavouring could have: the shelf could not be read with them."""
    limits = FLAVOURINGS.by_name["drop_mg"]
    drops = data["drops"].astype(float)
    drops[drops <= 0] = np.nan  # no drops at all are refused as such
    with np.errstate(over="ignore"):  # an absurd weight is refused below
        each_mg = 1000 * data["grams"] / drops
    for i in np.flatnonzero((each_mg < limits.low) | (each_mg > limits.high)):
        problems.refuse(
            [i], "grams", data["grams"][i],
            f"{data['grams'][i]:g} g in {data['drops'][i]:g} drops is {each_mg[i]:g} mg each, "
            f"allowed is {limits.low:g} to {limits.high:g}",
            "check the count, and that the grams are those of the drops alone",
        )  # fmt: skip


def check_readings(data: Data, problems: Problems, present: Sequence[str]) -> np.ndarray:
    """Fill taster and reading, and refuse readings that contradict themselves.

    Returns
    -------
    array of bool
        Rows that repeat an earlier row of their reading cell by cell.
    """
    if len(missing := np.flatnonzero(absent(data["taster"]))):
        if "taster" in present:
            where = f"{'row' if len(missing) == 1 else 'rows'} {first_few(problems.numbers[missing], 3)}"
            problems.note(f"empty in {where}: {DEFAULT_TASTER!r} is written", "taster")
        data["taster"][missing] = DEFAULT_TASTER
        data.known.pop("taster", None)
    _check_doses(data, problems)
    cup = key_codes([data.codes("trial_id"), data.codes("taster")])
    copies = _number_readings(data, cup, present)
    _one_base(data, problems)
    reading = key_codes([cup, _codes(data["reading"])])
    n_readings = int(reading.max(initial=-1)) + 1
    _room_for_base(data, reading, problems)
    for name in ("liking", "likeness"):
        if name in present:
            data[name] = _shared(data[name], reading, n_readings, name, problems)
    return copies


def _check_doses(data: Data, problems: Problems) -> None:
    dose, plain = data["dose_g_per_kg"], absent(data["flavouring_id"])
    empty = np.isnan(dose)
    dose[plain & empty] = 0.0
    fresh = problems.good(len(dose))
    problems.refuse(
        np.flatnonzero(plain & (dose > 0) & fresh), "dose_g_per_kg", dose,
        "a dose without a flavouring_id", "name the flavouring, or write dose 0 for the plain cup",
    )  # fmt: skip
    no_amount = absent(data["amount"])
    problems.refuse(
        np.flatnonzero(~plain & empty & no_amount & fresh), "dose_g_per_kg", None,
        "neither dose_g_per_kg nor amount is given", "write g per kg of finished drink, or an amount such as 11 drops",
    )  # fmt: skip
    no_base = np.isnan(data["base_g"]) & np.isnan(data["base_ml"])
    unused = (
        f"; if {first_few(problems.unused, 3)} says it, name that column base_g or base_ml" if problems.unused else ""
    )
    problems.refuse(
        np.flatnonzero(~plain & empty & ~no_amount & no_base & fresh), "base_g", None,
        "an amount without base_g or base_ml", f"say how much base was poured{unused}",
    )  # fmt: skip
    for i in np.flatnonzero(~plain & (dose == 0) & (data["strength"] > 1))[:5]:
        what = f"{data['flavouring_id'][i]} reads {data['strength'][i]:g} at dose 0"
        problems.note(f"{what}: check the dose", f"readings row {problems.numbers[i]}")
    tomorrow = (datetime.now() + timedelta(days=1)).isoformat()
    for i in [i for i, at in enumerate(data["tasted_at"]) if isinstance(at, str) and at > tomorrow][:5]:
        problems.note(f"tasted_at {data['tasted_at'][i]} is in the future", f"readings row {problems.numbers[i]}")


def _number_readings(data: Data, cup: np.ndarray, present: Sequence[str]) -> np.ndarray:
    """Count readings in order of appearance where the file does not; return copies of earlier rows."""
    number = data["reading"]
    copies = np.zeros(len(number), dtype=bool)
    blank = np.isnan(number)
    number[blank] = 1.0
    if not blank.any():
        return copies
    import pandas as pd

    flavouring = data.codes("flavouring_id")
    addition = pd.Series(cup * (int(flavouring.max(initial=0)) + 1) + flavouring)
    several = np.unique(cup[addition.duplicated().to_numpy() | (~blank & (number != 1.0))])
    rows = np.flatnonzero(np.isin(cup, several) & blank) if len(several) else several
    if not len(rows):
        return copies
    cells = pd.DataFrame({name: data[name][rows] for name in present} | {"_cup": cup[rows]})
    copies[rows[cells.duplicated().to_numpy()]] = True
    last = pd.Series(number[~blank]).groupby(cup[~blank]).max().to_dict()
    inside: dict[int, set[int]] = {}
    marks: dict[int, list[object]] = {}
    for i in rows[~copies[rows]]:
        c, f = int(cup[i]), int(flavouring[i])
        mark = [data["tasted_at"][i], data["liking"][i]]
        if f in inside.setdefault(c, set()) or _differ(marks.get(c), mark):
            inside[c], marks[c] = set(), mark
            last[c] = last.get(c, 0) + 1
        elif not inside[c]:
            last[c], marks[c] = last.get(c, 0) + 1, mark
        inside[c].add(f)
        number[i] = last[c]
    return copies


def _differ(one: list[object] | None, other: list[object]) -> bool:
    """Tell whether two rows say different times or likings; an empty cell says nothing."""
    return one is not None and any(
        not is_missing(a) and not is_missing(b) and a != b for a, b in zip(one, other, strict=True)
    )


def _one_base(data: Data, problems: Problems) -> None:
    """Refuse rows of a trial that name another base than its first."""
    trial, base, values = data.codes("trial_id"), data.codes("base_id"), data["base_id"]
    first = _first_of(trial, np.arange(len(trial)), int(trial.max(initial=0)) + 1)[trial]
    for i in np.flatnonzero((base != base[first]) & (trial > 0)):
        row = problems.numbers[first[i]]
        reason = f"this trial has base_id {values[first[i]]!r} in row {row}, here {values[i]!r}"
        problems.refuse([i], "base_id", values[i], reason, "give every cup its own trial_id")


def _room_for_base(data: Data, reading: np.ndarray, problems: Problems) -> None:
    """Refuse readings whose doses leave no room for the base."""
    dose = np.where(problems.good(len(reading)), np.nan_to_num(data["dose_g_per_kg"]), 0.0)
    if not (np.bincount(reading, weights=dose) > MAX_DOSE_G_PER_KG).any():
        return
    addition = key_codes([reading, data.codes("flavouring_id")])
    once = np.zeros(len(dose), dtype=bool)
    once[np.unique(addition, return_index=True)[1]] = True  # a row that is repeated counts once
    total = np.bincount(reading, weights=dose * once)[reading]
    for i in np.flatnonzero(total > MAX_DOSE_G_PER_KG):
        problems.refuse(
            [i], "dose_g_per_kg", data["dose_g_per_kg"],
            f"the doses of this reading add up to {total[i]:g} g/kg, at most {MAX_DOSE_G_PER_KG:g} fit",
            "correct the doses: they are g per kg of finished drink",
        )  # fmt: skip


def _shared(values: np.ndarray, codes: np.ndarray, n: int, name: str, problems: Problems) -> np.ndarray:
    """Repeat a reading's value on all its rows; refuse rows that contradict the first."""
    known = np.flatnonzero(~np.isnan(values))
    first = np.full(n, np.nan)
    first[codes[known][::-1]] = values[known][::-1]
    for i in known[values[known] != first[codes[known]]]:
        problems.refuse(
            [i], name, values[i],
            f"{name} is {values[i]:g}, another row of the same reading says {first[codes[i]]:g}",
            "a reading has one value, repeated on its rows; number readings that are different ones",
        )  # fmt: skip
    return np.asarray(first[codes])


def refuse_whole_readings(data: Data, problems: Problems) -> None:
    """Refuse the other rows of a reading that has lost one: without it they would tell of another drink."""
    if not problems.found:
        return
    codes = key_codes([data.codes(name) for name in ("trial_id", "taster", "reading")])
    n = int(codes.max(initial=-1)) + 1
    lost = np.full(n, -1)
    bad = np.array(sorted(problems.found, reverse=True))
    lost[codes[bad]] = bad
    for i in np.flatnonzero(lost[codes] >= 0):
        if int(i) not in problems.found:
            problems.refuse(
                [i], "", None,
                f"row {problems.numbers[lost[codes[i]]]} of the same reading is refused, and a reading goes in whole",
                "correct that row and load the file again",
            )  # fmt: skip


def note_parents(data: Data, key: str, known: Iterable[str], problems: Problems) -> None:
    """Note rows that are a version of something that nobody has described."""
    ids = {*known, *data[key]}
    for parent in dict.fromkeys(data["version_of"]):
        if parent is not None and parent not in ids:
            problems.note(f"version_of {parent!r} is not known: {nearest(parent, ids)}")


def find_copies(
    data: Data, key: Sequence[str], present: Sequence[str], rows: np.ndarray
) -> tuple[np.ndarray, dict[int, int]]:
    """Find rows whose key is taken by an earlier one.

    Returns
    -------
    same : array of int
        Positions of rows that repeat the earlier one cell by cell.
    other : dict of int to int
        Position of a row that differs, and of the earlier one.
    """
    codes = key_codes([data.codes(name)[rows] for name in key])
    first = _first_rows(codes)  # as codes count from 0 in order of appearance, also the first row of each
    repeated = np.delete(np.arange(len(codes)), first)
    same: list[int] = []
    other: dict[int, int] = {}
    for j in repeated:
        i, k = int(rows[j]), int(rows[first[codes[j]]])
        if all(_equal(data[name][i], data[name][k]) for name in present):
            same.append(i)
        else:
            other[i] = k
    return np.array(same, dtype=np.int64), other


def _equal(a: object, b: object) -> bool:
    return a == b or (is_missing(a) and is_missing(b))


def check_references(
    data: Data, refers: Mapping[str, str], known: Mapping[str, Iterable[str]], problems: Problems
) -> None:
    """Refuse rows that name a base, flavouring or target that nobody has described.

    Parameters
    ----------
    data : dict of array
    refers : mapping
        Column to the table that it refers to; ``"bases+flavourings"`` allows either.
    known : mapping
        Table to its ids; a table that is left out is not checked.
    problems : Problems
    """
    for column, tables in refers.items():
        names = tables.split("+")
        if not all(name in known for name in names):
            continue
        ids = names_of(known[name] for name in names)
        codes = data.codes(column)
        rows_of, unknown = RowsOf(codes), 0
        for j, one in [(codes[i], data[column][i]) for i in _first_rows(codes)]:
            if one not in ids and one is not None and one != "":
                what = " or ".join(name.removesuffix("s") for name in names)
                rows = rows_of(j)
                reason = f"{column} {one!r} is not a known {what}"
                remedy = f"add it to {names[-1]} first"
                unknown += 1
                if unknown <= _NAMED_NEAREST and (several := called([one], ids)[one]):
                    reason = f"{column} {one!r} may be {what} {' or '.join(several)}"
                    remedy = "write the id that is meant"
                elif unknown <= _NAMED_NEAREST:
                    remedy = or_else(offer(one, ids), f"otherwise {remedy}")
                problems.refuse(rows, column, one, reason, remedy)
