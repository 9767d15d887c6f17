"""What of a bench may leave for a pool: made from numbers and public ids, so that no text of one's own can slip in."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pairing.errors import PoolError, first_few
from pairing.learning.design import Traits
from pairing.learning.log import Log, read_log
from pairing.learning.off_notes import notes_in
from pairing.model.arrays import Floats
from pairing.model.columns import TABLES
from pairing.model.shelf import Shelf
from pairing.pooling.compared import FILE, public_comparisons
from pairing.pooling.folder import FORMAT, VERSION_KEY
from pairing.store.exchange import clean

__all__ = ["Contribution", "check_public_ids", "contribution", "suggested", "withdraw", "write_contribution"]

PUBLIC_ID = re.compile(r"[a-z0-9][a-z0-9._-]{0,59}")
PUBLIC_FACTS = {
    "bases": (
        "base_id", "name", "energy_kcal_per_100g", "fat_g_per_100g", "protein_g_per_100g", "carbohydrate_g_per_100g",
        "sugars_g_per_100g", "acids_g_per_100g", "sodium_mg_per_100g", "density_g_per_ml", "ph", "viscosity_mpa_s",
    ),
    "flavourings": (
        "flavouring_id", "name", "label_dose_g_per_kg", "family", "form", "carrier", "solubility", "density_g_per_ml",
        "fat_loving",
    ),
}  # fmt: skip
"""Columns of bases and flavourings that a pool holds."""
PUBLIC_NOTES = (
    "artificial", "astringent", "beany", "bitter", "burning", "burnt", "cardboard", "chalky", "cooked", "curdled",
    "drying", "fishy", "grassy", "medicinal", "metallic", "musty", "rancid", "salty", "soapy", "sour", "stale",
    "sulphury", "sweet", "whey",
)  # fmt: skip
"""Off-notes that leave, in the words of the trade (common practice, no source); one's own words stay at home."""
ALIKE = 0.85
MOST_APART = float(np.log(1000.0))
"""References of one bottle and the public one that are further apart are of two things (our choice)."""


@dataclass(frozen=True, eq=False)
class Contribution:
    """What leaves.

    Attributes
    ----------
    readings, comparisons : DataFrame
    bases, flavourings : DataFrame
        Those that the pool does not know yet, with public facts alone.
    """

    readings: pd.DataFrame
    comparisons: pd.DataFrame
    bases: pd.DataFrame
    flavourings: pd.DataFrame


def check_public_ids(given: Mapping[str, str | None], shelf: Shelf) -> dict[str, str]:
    """Return public ids as they are kept: empty for what stays at home."""
    out = {}
    for own, public in given.items():
        if own not in shelf.bases and own not in shelf.flavourings:
            raise PoolError(f"{own!r} is neither a base nor a flavouring of this bench", "name ids of your shelf")
        if public and not PUBLIC_ID.fullmatch(public):
            raise PoolError(
                f"{public!r} is no public id", "use small letters, digits, dots and hyphens; None keeps it at home"
            )
        out[own] = public or ""
    return out


def pool_tables(folder: Path) -> dict[str, pd.DataFrame]:
    """Read what a pool speaks of; a folder that is none yet speaks of nothing."""
    out = {}
    for name, columns in PUBLIC_FACTS.items():
        file = folder / f"{name}.parquet"
        out[name] = pd.DataFrame(columns=list(columns))
        if file.exists():
            try:
                out[name] = pd.read_parquet(file)
            except (OSError, ValueError) as error:
                raise PoolError(f"{file} cannot be read: {error}", "ask whoever keeps the pool") from None
    return out


def suggested(shelf: Shelf, public: Mapping[str, str], folder: Path) -> pd.DataFrame:
    """Suggest public ids; see `Bench.suggest_public_ids`."""
    rows = []
    tables = pool_tables(folder)
    for what, table in tables.items():
        items: Mapping[str, Any] = getattr(shelf, what)
        names = dict(zip(table.iloc[:, 0], table.iloc[:, 1].astype(str), strict=True)) if len(table) else {}
        by_name = {name.casefold(): one for one, name in names.items()}
        for own, item in items.items():
            found, why = _alike(own, item.name, public, names, by_name)
            rows.append((what[:-1], own, item.name, found, names.get(found, ""), why))
    return pd.DataFrame(rows, columns=["item", "own_id", "name", "public_id", "public_name", "why"])


def _alike(
    own: str, name: str, public: Mapping[str, str], names: Mapping[str, str], by_name: Mapping[str, str]
) -> tuple[str, str]:
    if own in public:
        return public[own], "named"
    if own in names:
        return own, "same id"
    if name.casefold() in by_name:
        return by_name[name.casefold()], "same name"
    close = get_close_matches(name.casefold(), by_name, n=1, cutoff=ALIKE)
    return (by_name[close[0]], "alike") if close else ("", "")


def contribution(
    shelf: Shelf,
    readings: pd.DataFrame,
    comparisons: pd.DataFrame,
    public: Mapping[str, str],
    folder: Path,
    kitchen: str,
) -> Contribution:
    """Make what leaves; see `Bench.contribute`."""
    if not PUBLIC_ID.fullmatch(kitchen):
        raise PoolError(f"{kitchen!r} is no name for a kitchen", "use small letters, digits, dots and hyphens")
    tables = pool_tables(folder)
    known = {what: set(table.iloc[:, 0]) for what, table in tables.items()}
    log = read_log(shelf, readings)
    ids = {}
    for what, column in (("bases", log.recipes.base), ("flavourings", log.recipes.flavouring)):
        own = list(getattr(shelf, what))
        used = [own[i] for i in np.unique(column[column >= 0])]
        if missing := [i for i in used if i not in public and i not in known[what]]:
            raise PoolError(
                f"{len(missing)} {what} have no public id: {first_few(missing)}",
                "name them: public_ids={'my-id': 'public-id'}, or None for what is to stay at home; "
                "bench.suggest_public_ids(folder) suggests",
            )
        ids[what] = [public.get(i, i) for i in own]
    home = np.array([not i for i in ids["flavourings"]] + [False])
    kept = np.array([not i for i in ids["bases"]])[log.recipes.base] | home[log.recipes.flavouring].any(axis=1)
    stays = np.isin(log.cup, log.cup[kept])
    leaving = log.take(np.flatnonzero(~stays))
    if not len(leaving):
        raise PoolError("no cup is left to give", "give public ids to more of your bases and flavourings")
    fresh = {what: _public_facts(shelf, what, ids[what], known[what], leaving) for what in PUBLIC_FACTS}
    ratio = _references(shelf, ids, tables, fresh)
    table = _readings(leaving, ids, ratio, readings)
    there = {what: known[what].union(fresh[what].iloc[:, 0]) for what in ids}
    said = {what: [one if one in there[what] else "" for one in ids[what]] for what in ids}
    compared = public_comparisons(shelf, log, comparisons, said, ratio)
    owns = [*shelf.bases, *shelf.flavourings]
    because = {own: _cups_with(log, shelf, own) for own in owns if public.get(own) == ""}
    table.attrs.update(
        cups=len(np.unique(leaving.cup)), kept_home=len(np.unique(log.cup[stays])),
        because={own: n for own, n in because.items() if n}, comparisons=compared.to_dict("records"),
    )  # fmt: skip
    return Contribution(table, compared, fresh["bases"], fresh["flavourings"])


def _cups_with(log: Log, shelf: Shelf, own: str) -> int:
    bases, flavourings = list(shelf.bases), list(shelf.flavourings)
    if own in shelf.bases:
        return len(np.unique(log.cup[log.recipes.base == bases.index(own)]))
    return len(np.unique(log.cup[(log.recipes.flavouring == flavourings.index(own)).any(axis=1)]))


def _public_facts(shelf: Shelf, what: str, ids: list[str], known: set[str], log: Log) -> pd.DataFrame:
    """Return the public facts of what is given and not known yet."""
    column = log.recipes.base if what == "bases" else log.recipes.flavouring
    items = list(getattr(shelf, what).values())
    rows: dict[str, dict[str, Any]] = {}
    labels = np.exp(Traits.of(shelf).log_label) if what == "flavourings" else None
    for place in np.unique(column[column >= 0]):
        public, item = ids[place], items[place]
        if public in known or public in rows:
            continue
        row = {name: getattr(item, name, None) for name in PUBLIC_FACTS[what]}
        row[PUBLIC_FACTS[what][0]] = public
        if labels is not None:
            stated = labels[:, place][~np.isnan(labels[:, place])]
            row["label_dose_g_per_kg"] = float(np.median(stated)) if len(stated) else None
            row["carrier"] = None  # may name its maker's own mixture
        rows[public] = row
    spec = TABLES[what].by_name
    table = pd.DataFrame(list(rows.values()), columns=list(PUBLIC_FACTS[what]))
    return (
        table.astype({str(name): "float64" for name in table if spec[str(name)].kind == "number"})
        if len(table)
        else table
    )


def _references(
    shelf: Shelf, ids: Mapping[str, list[str]], tables: Mapping[str, pd.DataFrame], fresh: Mapping[str, pd.DataFrame]
) -> Floats:
    """Log of what the pool's label (or form) says of each base and flavouring, less what one's own bottle says."""
    whole = {what: _stacked(tables[what], fresh[what]) for what in PUBLIC_FACTS}
    public = Shelf.from_tables(
        clean("bases", whole["bases"], on_bad="raise").table,
        clean("flavourings", whole["flavourings"], on_bad="raise").table,
        None,
    )
    places = {
        what: np.array([{i: n for n, i in enumerate(getattr(public, what))}.get(i, -1) for i in ids[what]])
        for what in PUBLIC_FACTS
    }
    theirs, ours = (_reference(Traits.of(one)) for one in (public, shelf))
    ratio = theirs[np.ix_(places["bases"], places["flavourings"])] - ours
    ratio[:, places["flavourings"] < 0] = 0.0
    ratio[places["bases"] < 0] = 0.0
    far = np.flatnonzero((np.abs(ratio) > MOST_APART).any(axis=0))
    if len(far):
        own = list(shelf.flavourings)
        raise PoolError(
            f"the doses of {first_few([own[i] for i in far])} differ from the pool's by more than 1000 times",
            "they are not the same thing: give them another public id, or correct the label direction",
        )
    return np.asarray(ratio)


def _stacked(one: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """Put tables under each other; an empty one says nothing of types."""
    some = [table for table in (one, other) if len(table)]
    return pd.concat(some, ignore_index=True) if some else one


def _reference(traits: Traits) -> Floats:
    return np.where(np.isnan(traits.log_label), traits.log_expected[None, :], traits.log_label)


def _readings(log: Log, ids: Mapping[str, list[str]], ratio: Floats, readings: pd.DataFrame) -> pd.DataFrame:
    """Write readings with numbers for names."""
    row, slot = np.nonzero(log.recipes.present)
    plain = np.flatnonzero(log.recipes.count == 0)
    row, slot = np.append(row, plain), np.append(slot, np.full(len(plain), -1))
    order = np.lexsort((slot, row))
    row, slot = row[order], slot[order]
    base = log.recipes.base[row]
    item = np.where(slot >= 0, log.recipes.flavouring[row, np.maximum(slot, 0)], -1)
    dose = np.where(slot >= 0, log.recipes.dose_g_per_kg[row, np.maximum(slot, 0)], 0.0)
    dose = dose * np.exp(np.where(slot >= 0, ratio[base, item], 0.0))
    strength = np.where(slot >= 0, log.strength[row, np.maximum(slot, 0)], np.nan)
    lot = np.where(slot >= 0, log.recipes.told_lot[row, np.maximum(slot, 0)], -1)
    days = readings["tasted_at"].to_numpy(dtype=object) if "tasted_at" in readings else np.full(len(readings), None)
    month = np.array([f"{day[:7]}-01" if isinstance(day, str) and len(day) >= 7 else None for day in days], object)
    taken = _in_order(log.cup, log.taster)
    return pd.DataFrame(
        {
            "trial_id": _numbered(log.cup, "c")[row],
            "base_id": np.array(ids["bases"], object)[base],
            "flavouring_id": np.array([*ids["flavourings"], None], object)[item],
            "dose_g_per_kg": np.array([float(f"{d:.5g}") for d in dose]),
            "reading": taken[row].astype(float),
            "taster": _numbered(log.taster, "t")[row],
            "session": _numbered(log.session, "s")[row],
            "position": np.where(log.position >= 0, log.position, np.nan)[row],
            "tasted_at": month[log.source][row],
            "strength": strength,
            "liking": log.liking[row],
            "off_notes": np.array([_public_notes(text) for text in log.off_notes], object)[row],
            "stepped": np.where(log.stepped, "yes", "no").astype(object)[row],
            "temperature_c": log.temperature_c[row],
            "minutes_since_addition": log.minutes[row],
            "glass": np.where(log.full_glass, "full", "sip").astype(object)[row],
            "lot": _numbered(lot, "l"),
        }
    )


def _public_notes(text: Any) -> str | None:
    """Write the off-notes that leave, in an order that tells nothing."""
    found = sorted(notes_in(text).items()) if isinstance(text, str) else []
    parts = [(key.partition("@"), strength) for key, strength in found]
    return "; ".join(f"{name}:{n}{at}{when}" for (name, at, when), n in parts if name in PUBLIC_NOTES) or None


def _in_order(cup: Any, taster: Any) -> Any:
    """Give the readings of a cup their place among those of the same taster."""
    return pd.DataFrame({"cup": cup, "taster": taster}).groupby(["cup", "taster"]).cumcount().to_numpy() + 1


def _numbered(code: Any, letter: str) -> Any:
    """Name codes by their order of appearance; None for none."""
    number, _ = pd.factorize(np.where(code < 0, -1, code), use_na_sentinel=False)
    names = np.array([f"{letter}{n + 1}" for n in range(int(number.max(initial=-1)) + 1)], object)
    out = names[number]
    out[code < 0] = None
    return out


def write_contribution(given: Contribution, folder: Path, kitchen: str) -> None:
    """Put it into the pool, in place of what this kitchen gave before."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for what, fresh in (("bases", given.bases), ("flavourings", given.flavourings)):
            file = folder / f"{what}.parquet"
            if len(fresh) or not file.exists():
                _replace(file, _stacked(pool_tables(folder)[what], fresh))
        place = folder / f"kitchen={kitchen}"
        draft = folder / f".kitchen={kitchen}.draft"
        shutil.rmtree(draft, ignore_errors=True)
        draft.mkdir()
        for name, rows in (("part-0.parquet", given.readings), (FILE, given.comparisons)):
            if len(rows):
                table = pa.Table.from_pandas(rows, preserve_index=False)
                table = table.replace_schema_metadata({VERSION_KEY: FORMAT.encode()})  # and nothing of pandas
                pq.write_table(table, draft / name, compression="zstd")
        if place.exists():
            shutil.rmtree(place)
        draft.replace(place)
    except OSError as error:
        raise PoolError(
            f"{folder} cannot be written: {error.strerror}", "name a folder that you may write to"
        ) from None


def _replace(file: Path, table: pd.DataFrame) -> None:
    draft = file.with_name(f".{file.name}.draft")
    table.to_parquet(draft, index=False)
    draft.replace(file)


def withdraw(folder: Path, kitchen: str) -> int:
    """Take a kitchen out of a pool."""
    place = folder / f"kitchen={kitchen}"
    if not PUBLIC_ID.fullmatch(kitchen) or not place.is_dir():
        raise PoolError(f"{folder} has nothing of a kitchen {kitchen!r}", "see its folders for the names there are")
    files = len(list(place.rglob("*.parquet")))
    shutil.rmtree(place)
    return files
