"""Learned state kept in the bench: a new process answers from it before it learns anything anew.

Kept are arrays and numbers only (no code), keyed by the log's revision, the plugins and the settings.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any
from zipfile import BadZipFile

import numpy as np

from pairing.errors import StoreError
from pairing.host.guard import Fault
from pairing.learning.columns import Block, Columns
from pairing.learning.design import Traits
from pairing.learning.liking import BLOCKS as LIKING_BLOCKS
from pairing.learning.liking import Liking
from pairing.learning.log import read_log
from pairing.learning.ordinal import Ordinal
from pairing.learning.posterior import Posterior
from pairing.learning.rules import RuleColumns
from pairing.learning.strength import BLOCKS as STRENGTH_BLOCKS
from pairing.learning.strength import Strength

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.host.host import Host
    from pairing.learned import Learned

__all__ = ["learn_bench", "pack", "state_key", "unpack"]

FORMAT = 1
_NAMES = ("strength", "liking")


def state_key(bench: Bench, host: Host) -> str:
    """Name of the state that belongs to the bench as it is now."""
    settings = json.dumps(dict(bench.settings), sort_keys=True, default=str)
    return f"learned/{FORMAT}/{bench.revision}/{host.fingerprint}/{settings}"


def learn_bench(bench: Bench, random_state: Any = None, host: Host | None = None) -> Learned:
    """Learn from a bench with its plugins' rules; answer from kept state where nothing has changed."""
    host = bench.host if host is None else host
    key = state_key(bench, host)
    kept = bench.load_blob(key)
    model = None if kept is None else unpack(bench, host, kept)
    if model is None:
        model = _learn(bench, host, random_state)
        blob = pack(model)
        if blob is not None and bench.revision == model.revision:
            with suppress(StoreError):  # a bench that cannot be written to can still be asked
                bench.store_blob(key, blob)
                bench.store_blob("learned/last", blob)
    return model


def _learn(bench: Bench, host: Host, random_state: Any) -> Learned:
    from pairing.learned import learn_shelf

    revision, tables = bench.revision, bench.tables()
    shelf = host.used(bench.shelf(), tables["readings"])
    last = bench.load_blob("learned/last")
    return learn_shelf(
        shelf,
        tables["readings"],
        tables["comparisons"],
        rules=host.rules,
        random_state=random_state,
        revision=revision,
        settings=bench.settings,
        start=None if last is None else unpack(bench, host, last, tables=tables, check=False),
    )


def pack(model: Learned) -> bytes | None:
    """Turn what was learned into bytes; None where it is too large to keep."""
    if model.liking.posterior.cov is None or model.strength.posterior.cov is None:
        return None
    arrays: dict[str, Any] = {}
    parts: dict[str, Any] = {"strength": model.strength, "liking": model.liking}
    parts |= {f"likeness:{name}": part for name, part in model.likenesses.items()}
    meta: dict[str, Any] = {
        "revision": model.revision,
        "bases": list(model.shelf.bases),
        "flavourings": list(model.shelf.flavourings),
        "tasters": list(model.log.tasters),
        "faults": [asdict(fault) for fault in model.faults],
        "parts": {},
    }
    for name, part in parts.items():
        columns, mean = _without_nested(part)
        for block, keys in columns.keys.items():
            arrays[f"{name}/keys/{block}"] = keys
            arrays[f"{name}/scales/{block}"] = columns.scales[block]
        arrays[f"{name}/mean"] = mean
        arrays[f"{name}/cov"] = part.posterior.cov.astype(np.float32)
        meta["parts"][name] = {"variances": part.variances, "evidence_n": part.evidence_n, "start": dict(columns.start)}
    arrays["ordinal"] = model.strength.ordinal.parameters
    meta["fallback"] = model.strength.fallback_log_label
    for name in parts:
        if name != "strength":
            arrays[f"{name}/slopes"] = parts[name].slopes
            meta["parts"][name]["noise_sd"] = parts[name].noise_sd
    buffer = io.BytesIO()
    arrays["meta"] = np.frombuffer(json.dumps(_finite(meta)).encode(), np.uint8)
    np.savez(buffer, **arrays)
    return buffer.getvalue()


def _without_nested(part: Any) -> tuple[Columns, Any]:
    """Columns and mean of a fit less its nested block, which only the cups that were judged can use."""
    columns, mean, inverse = part.columns, part.posterior.mean, part.posterior.inverse
    if inverse is None or inverse.inner is None:
        return columns, mean
    name = next(n for n in columns.keys if columns.start[n] == inverse.inner[0])
    gap = columns.slice(name)
    start = {n: s - len(inverse.inner) if s > gap.start else s for n, s in columns.start.items() if n != name}
    keys = {n: k for n, k in columns.keys.items() if n != name}
    scales = {n: k for n, k in columns.scales.items() if n != name}
    return replace(columns, keys=keys, scales=scales, start=start, n=len(inverse.outer)), mean[inverse.outer]


def _finite(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {k: _finite(v) for k, v in value.items()}
    return "inf" if isinstance(value, float) and np.isinf(value) else value


def unpack(
    bench: Bench, host: Host, blob: bytes, *, tables: Mapping[str, Any] | None = None, check: bool = True
) -> Learned | None:
    """Make a model from kept bytes; None where they do not fit the bench as it is."""
    from pairing.learned import Learned

    try:
        arrays = dict(np.load(io.BytesIO(blob), allow_pickle=False))
        meta = json.loads(arrays.pop("meta").tobytes())
    except (ValueError, KeyError, OSError, EOFError, BadZipFile):
        return None
    tables = bench.tables() if tables is None else tables
    shelf = host.used(bench.shelf(), tables["readings"])
    if meta["bases"] != list(shelf.bases) or meta["flavourings"] != list(shelf.flavourings):
        return None
    log = read_log(shelf, tables["readings"])
    if meta["tasters"] != list(log.tasters) or (check and meta["revision"] != bench.revision):
        return None
    traits, rule_columns = Traits.of(shelf), RuleColumns.of(shelf, host.rules)
    if rule_columns:
        faults = (Fault(**kept) for kept in meta.get("faults", ()))
        rule_columns.faults.update({fault.key: fault for fault in faults})
    part = meta["parts"]["strength"]
    blocks = rule_columns.dose_blocks(STRENGTH_BLOCKS) if rule_columns else STRENGTH_BLOCKS
    strength = Strength(
        traits=traits,
        columns=_columns("strength", part, arrays, blocks),
        posterior=_posterior("strength", arrays),
        variances=_variances(part),
        ordinal=Ordinal(arrays["ordinal"]),
        n_tasters=len(log.tasters),
        fallback_log_label=meta["fallback"],
        evidence_n=part["evidence_n"],
        rules=rule_columns,
    )
    likings = {
        name: _liking(name, part, arrays, strength, rule_columns if name == "liking" else None)
        for name, part in meta["parts"].items()
        if name != "strength"
    }
    return Learned(
        shelf=shelf,
        log=log,
        strength=strength,
        liking=likings.pop("liking"),
        likenesses={name.partition(":")[2]: part for name, part in likings.items()},
        rules=tuple(host.rules),
        rule_columns=rule_columns,
        revision=meta["revision"],
        settings=dict(bench.settings),
    )


def _liking(name: str, part: Mapping[str, Any], arrays: Any, strength: Strength, rules: RuleColumns | None) -> Liking:
    blocks = rules.liking_blocks(LIKING_BLOCKS) if rules else LIKING_BLOCKS
    return Liking(
        traits=strength.traits,
        strength=strength,
        columns=_columns(name, part, arrays, blocks),
        posterior=_posterior(name, arrays),
        variances=_variances(part),
        noise_sd=part["noise_sd"],
        n_tasters=strength.n_tasters,
        evidence_n=part["evidence_n"],
        slopes=arrays[f"{name}/slopes"],
        rules=rules,
    )


def _columns(name: str, part: Mapping[str, Any], arrays: Any, blocks: tuple[Block, ...]) -> Columns:
    prefix = f"{name}/keys/"
    keys = {k.removeprefix(prefix): v for k, v in arrays.items() if k.startswith(prefix)}
    scales = {block: arrays[f"{name}/scales/{block}"] for block in keys}
    return Columns(blocks, keys, scales, part["start"], sum(map(len, keys.values())))


def _posterior(name: str, arrays: Any) -> Posterior:
    return Posterior(arrays[f"{name}/mean"], cov=arrays[f"{name}/cov"].astype(np.float64))


def _variances(part: Mapping[str, Any]) -> dict[str, float]:
    return {k: float(v) for k, v in part["variances"].items()}
