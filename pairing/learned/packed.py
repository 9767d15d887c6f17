"""Arrays and facts as bytes, and back: whole and unchanged, or not at all.

A checksum over all of them goes along. It tells what was spoilt from what was written; what was written for another
shelf, another log or by another version is told by whoever reads it.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any
from zipfile import BadZipFile

import numpy as np
import pandas as pd

from pairing.learning.log import Log
from pairing.model.recipes import Recipes
from pairing.model.served import SERVED_COLUMNS, Served

__all__ = ["pack_log", "read", "read_log", "write"]

Arrays = dict[str, np.ndarray[Any, Any]]
_RECIPES = ("base", "flavouring", "dose_g_per_kg")
_WIDE = {"i": np.dtype(np.int64), "f": np.dtype(np.float64)}
_NARROW: Mapping[str, tuple[type, ...]] = {"i": (np.int8, np.int16, np.int32), "f": (np.float16, np.float32)}
_META, _SUM = "meta", "checksum"


def write(arrays: Mapping[str, Any], meta: Mapping[str, Any]) -> bytes:
    """Turn arrays and facts into bytes."""
    kept: Arrays = {name: _narrow(np.asarray(array)) for name, array in arrays.items()}
    kept[_META] = np.frombuffer(json.dumps(_finite(meta)).encode(), np.uint8)
    kept[_SUM] = np.frombuffer(_checksum(kept), np.uint8)
    buffer = io.BytesIO()
    np.savez(buffer, **kept)  # type: ignore[arg-type]
    return buffer.getvalue()


def read(blob: bytes) -> tuple[Arrays, dict[str, Any]] | None:
    """Return the arrays and facts in some bytes, numbers in 64 bits; None where they are not as they were written."""
    try:
        kept: Arrays = dict(np.load(io.BytesIO(blob), allow_pickle=False))
        given = kept.pop(_SUM).tobytes()
        if given != _checksum(kept):
            return None
        meta = json.loads(kept.pop(_META).tobytes())
    except (ValueError, KeyError, OSError, EOFError, BadZipFile, NotImplementedError):
        return None
    wide = {name: array.astype(_WIDE[k]) if (k := array.dtype.kind) in _WIDE else array for name, array in kept.items()}
    return (wide, meta) if isinstance(meta, dict) else None


def _narrow(array: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Return numbers in the fewest bits that hold them exactly: most are small, and all of them are read each time."""
    if array.dtype not in _WIDE.values() or not array.size:
        return array
    with np.errstate(over="ignore"):
        few: Iterator[Any] = (array.astype(kind) for kind in _NARROW[array.dtype.kind])
        return next((found for found in few if np.array_equal(found, array, equal_nan=array.dtype.kind == "f")), array)


def _checksum(arrays: Mapping[str, Any]) -> bytes:
    """SHA-256 over names, types, shapes and contents."""
    digest = hashlib.sha256()
    for name in sorted(arrays):
        array = np.ascontiguousarray(arrays[name])
        digest.update(f"{name}\0{array.dtype.str}\0{array.shape}\0".encode())
        digest.update(array.view(np.uint8).data if array.size else b"")
    return digest.digest()


def _finite(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {k: _finite(v) for k, v in value.items()}
    return "inf" if isinstance(value, float) and np.isinf(value) else value


def pack_log(log: Log) -> Arrays:
    """Return a log as arrays of numbers and of the bytes of texts."""
    parts = {name: getattr(log.recipes, name) for name in (*_RECIPES, "lot")}
    out: Arrays = {f"recipes/{name}": array for name, array in parts.items() if array is not None}
    if (served := log.recipes.served) is not None:
        out |= {f"served/{name}": getattr(served, name) for name in SERVED_COLUMNS}
        out |= {f"served/mixing/{name}": array for name, array in _pack_texts(served.mixing).items()}
    for name in (f.name for f in fields(log) if f.name != "recipes"):
        value = getattr(log, name)
        if isinstance(value, np.ndarray):
            out |= {f"{name}/{k}": v for k, v in _pack_texts(value).items()} if value.dtype == object else {name: value}
        else:
            facts = [[int(k), v] for k, v in value.items()] if isinstance(value, Mapping) else list(value)
            out[f"{name}/facts"] = np.frombuffer(json.dumps(facts).encode(), np.uint8)
    return out


def _pack_texts(texts: Any) -> Arrays:
    codes, distinct = pd.factorize(texts, use_na_sentinel=True)
    names = json.dumps(list(map(str, distinct))).encode()
    return {"codes": codes.astype(np.int32), "texts": np.frombuffer(names, np.uint8)}


def read_log(arrays: Mapping[str, Any]) -> Log:
    """Make the log again that `pack_log` took apart."""
    recipes: dict[str, Any] = {name: arrays[f"recipes/{name}"] for name in _RECIPES}
    values: dict[str, Any] = {
        "recipes": Recipes(**recipes, served=_served(arrays), lot=arrays.get("recipes/lot")),
    }
    for name, array in arrays.items():
        if name.startswith(("recipes/", "served/")):
            continue
        field, _, part = name.partition("/")
        if not part:
            values[field] = array
        elif part == "codes":
            texts = np.array([*json.loads(arrays[f"{field}/texts"].tobytes()), None], dtype=object)
            values[field] = texts[array]
        elif part == "facts":
            facts = json.loads(array.tobytes())
            pairs = field in ("ended", "lots")
            told = [(k, v) for k, v in facts] if pairs else facts
            values[field] = {int(k): v for k, v in told} if field == "ended" else tuple(told)
    return Log(**values)


def _served(arrays: Mapping[str, Any]) -> Served | None:
    if "served/mixing/codes" not in arrays:
        return None
    texts = np.array([*json.loads(arrays["served/mixing/texts"].tobytes()), None], dtype=object)
    numbers = {name: arrays[f"served/{name}"] for name in SERVED_COLUMNS}
    return Served(**numbers, mixing=texts[arrays["served/mixing/codes"]])
