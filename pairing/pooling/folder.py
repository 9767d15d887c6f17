"""A pool on disk: what is in it, and reading it with all that cannot be used named and left out.

``bases.parquet`` and ``flavourings.parquet`` hold what all kitchens speak of; ``kitchen=NAME/**/*.parquet`` hold the
readings of one kitchen each, columns as in `readings`, and ``comparisons.parquet`` among them its blind comparisons.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pairing.errors import PairingError, PoolError, first_few
from pairing.learning.design import Traits
from pairing.learning.log import Log, read_log
from pairing.model.arrays import Ints
from pairing.model.shelf import Shelf
from pairing.pooling.compared import COLUMNS, Compared, files_of, read_compared, without
from pairing.store.exchange import clean

__all__ = ["FORMAT", "VERSION_KEY", "LogPart", "Source", "open_pool", "read_part", "sources_of"]

FORMAT, VERSION_KEY = "1", b"pairing.pool"
"""Version of a contribution, and where its file says so; a file that says nothing is taken for this one."""
PART_BYTES = 1_000_000
"""Bytes of files from which on the next kitchen goes into the next part (our choice): some 50,000 cups. Every question
is answered part by part with vectors as long as all shared columns: with small parts these take most of the time."""
FAR = float(np.log(50.0))
MOST_FAR = 0.2
"""A file is refused where more of its doses than this are over 50 times, or under a fiftieth of, the label (our
choice): that is another unit, not another palate."""
NEEDED = ("trial_id", "base_id", "flavouring_id")
PLAIN_COLUMNS = ("trial_id", "taster", "session")


@dataclass(frozen=True)
class Source:
    """The files of some kitchens.

    Attributes
    ----------
    kitchens : tuple of (str, tuple of str)
        Name and paths of each.
    """

    kitchens: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, eq=False)
class LogPart:
    """The readings of some kitchens.

    Attributes
    ----------
    log : Log
        Trials, tasters and sessions of one kitchen are those of no other.
    kitchen : int array, shape (n,)
        Place of each reading's kitchen in ``kitchens``.
    kitchens : tuple of str
    damaged : tuple of (str, str)
        Files that were left out, and why.
    since, until : str
        The first and the last day that is told; empty where none is.
    compared : mapping of question to Compared
    """

    log: Log
    kitchen: Ints
    kitchens: tuple[str, ...]
    damaged: tuple[tuple[str, str], ...]
    since: str = ""
    until: str = ""
    compared: Mapping[str, Compared] = field(default_factory=dict)


def open_pool(folder: str | Path) -> tuple[Shelf, dict[str, Source]]:
    """Read what a pool speaks of, and list its parts by name.

    Raises
    ------
    PoolError
        When there is no pool, or its bases or flavourings cannot be read.
    """
    place = Path(folder)
    tables = {}
    for name in ("bases", "flavourings"):
        file = place / f"{name}.parquet"
        if not file.exists():
            raise PoolError(f"{place} holds no {file.name}", "name a folder that `bench.contribute` wrote to")
        try:
            tables[name] = clean(name, file, on_bad="raise").table
        except (PairingError, OSError, ValueError) as error:
            raise PoolError(f"{file} cannot be read: {error}", "write it anew by contributing again") from None
    parts = sources_of(place)
    if not parts:
        raise PoolError(f"{place} holds no kitchen", "contribute a bench first: `pairing pool contribute`")
    return Shelf.from_tables(tables["bases"], tables["flavourings"], None), parts


def sources_of(place: Path) -> dict[str, Source]:
    """Group the kitchens of a pool into parts, each of whole kitchens, in the order of their names."""
    groups: list[list[tuple[str, tuple[str, ...]]]] = []
    size = PART_BYTES
    for folder in sorted(place.glob("kitchen=*")):
        files = sorted(folder.rglob("*.parquet"))
        if not files:
            continue
        if size >= PART_BYTES:
            groups.append([])
            size = 0
        groups[-1].append((folder.name.partition("=")[2], tuple(map(str, files))))
        size += sum(file.stat().st_size for file in files)
    return {group[0][0]: Source(tuple(group)) for group in groups}


def read_part(source: Source, shelf: Shelf, traits: Traits) -> LogPart:
    """Read the files of a part; a kitchen with a file that cannot be used is left out whole, and named."""
    import pyarrow as pa

    frames, pairs, damaged = [], [], []
    for name, every in source.kitchens:
        paths, others = files_of(every, compared=False), files_of(every, compared=True)
        read = [_read(path, NEEDED) for path in paths], [_read(path, COLUMNS) for path in others]
        both = zip([*paths, *others], [*read[0], *read[1]], strict=True)
        if reasons := [(path, why) for path, why in both if isinstance(why, str)]:
            damaged += reasons
        else:
            frames += [_made_own(frame, name) for frame in read[0] if not isinstance(frame, str)]
            pairs += [frame[list(COLUMNS)].assign(kitchen=name) for frame in read[1] if not isinstance(frame, str)]
    table = pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["kitchen", "trial_id", "base_id"])
    known = {"bases": list(shelf.bases), "flavourings": list(shelf.flavourings)}
    first = {name: files_of(every, compared=False)[:1] for name, every in source.kitchens}
    tidied, kitchen, more = _tidied(table, known, first)
    whole = read_log(shelf, tidied)
    days = tidied["tasted_at"].dropna() if "tasted_at" in tidied else pd.Series(dtype=object)
    since, until = (str(days.min())[:10], str(days.max())[:10]) if len(days) else ("", "")
    del table, tidied, frames
    pa.default_memory_pool().release_unused()
    log = replace(whole, trials=(), ended={}, notes=())  # texts as many as cups, which nobody asks for
    kitchens, code = np.unique(kitchen, return_inverse=True)
    place = code[log.source]
    told = pd.concat(pairs, ignore_index=True) if pairs else pd.DataFrame(columns=["kitchen", *COLUMNS])
    compared, odd = read_compared(shelf, whole, told[told["kitchen"].isin(kitchens)], kitchens)
    damaged += [(files_of(dict(source.kitchens)[kitchens[k]], compared=True)[0], why) for k, why in odd.items()]
    wild = _far_off(log, place, traits, kitchens)
    damaged += [(first[kitchens[k]][0], why) for k, why in wild.items()]
    if wild := wild | odd:
        left = ~np.isin(place, list(wild))
        log, place, compared = log.take(left), place[left], without(compared, list(wild))
    return LogPart(log, place, tuple(map(str, kitchens)), (*damaged, *more), since, until, compared)


def _read(path: str, needed: tuple[str, ...]) -> pd.DataFrame | str:
    """Read a file, or say why it cannot be."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        with pq.ParquetFile(path) as file:
            version = (file.schema_arrow.metadata or {}).get(VERSION_KEY, FORMAT.encode()).decode(errors="replace")
            if version != FORMAT:
                return f"it is of version {version}, not {FORMAT}"
            frame: pd.DataFrame = file.read().to_pandas()
    except (pa.ArrowException, OSError, ValueError) as error:
        return f"it cannot be read ({str(error).splitlines()[0][:120]})"
    missing = [name for name in needed if name not in frame]
    return f"it has no column {missing[0]}" if missing else frame


def _made_own(frame: pd.DataFrame, kitchen: str) -> pd.DataFrame:
    """Make the ids of readings this kitchen's own."""
    taster = frame["taster"].fillna("me") if "taster" in frame else "me"
    frame = frame.assign(kitchen=kitchen, taster=taster)
    for column in PLAIN_COLUMNS:
        if column in frame:
            frame[column] = _own(frame[column], kitchen)
    return frame


def _own(column: pd.Series, kitchen: str) -> pd.Series:
    """Put the kitchen's name before every value; what is empty stays empty."""
    return f"{kitchen}/" + column.astype("string")


def _tidied(
    table: pd.DataFrame, known: Mapping[str, list[str]], files: Mapping[str, list[str]]
) -> tuple[pd.DataFrame, Any, list[tuple[str, str]]]:
    """Clean readings; where one row is bad, its kitchen is left out."""
    found = clean("readings", table.drop(columns="kitchen"), known=known)
    kitchen = table["kitchen"].to_numpy()
    if not len(found.refused):
        return found.table, kitchen[found.rows], []
    bad = found.refused.assign(kitchen=kitchen[found.refused["row"].to_numpy(dtype=np.int64)])
    first = bad.drop_duplicates("kitchen")
    reasons = [
        (files[name][0], f"{column} {value!r}: {reason}")
        for name, column, value, reason in first[["kitchen", "column", "value", "reason"]].to_numpy()
    ]
    left = ~np.isin(kitchen, first["kitchen"].to_numpy())
    again, of, more = _tidied(table[left].reset_index(drop=True), known, files)
    return again, of, [*reasons, *more]


def _far_off(log: Log, kitchen: Ints, traits: Traits, kitchens: Any) -> dict[int, str]:
    """Kitchens whose doses are of another unit."""
    row, slot = np.nonzero(log.recipes.present)
    item = log.recipes.flavouring[row, slot]
    label = traits.log_label[log.recipes.base[row], item]
    off = log.recipes.log_dose[row, slot] - np.where(np.isnan(label), traits.log_expected[item], label)
    n = np.bincount(kitchen[row], minlength=len(kitchens))
    far = np.bincount(kitchen[row], np.abs(off) > FAR, minlength=len(kitchens))
    return {
        int(k): f"{far[k] / n[k]:.0%} of its doses are over 50 times the label, or under a fiftieth: check the unit"
        for k in np.flatnonzero(far > np.maximum(MOST_FAR * n, 3))
    }


def refusal(damaged: tuple[tuple[str, str], ...]) -> PoolError:
    """Return the error that names what cannot be used."""
    named = first_few([f"{path}: {why}" for path, why in sorted(damaged)])
    return PoolError(
        f"{len(damaged)} file{'' if len(damaged) == 1 else 's'} of the pool cannot be used: {named}",
        'take them out or have them written again; on_damaged="skip" goes on without those kitchens',
    )
