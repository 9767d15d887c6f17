"""Cache of learned states in the bench: a new process answers from it before it learns anything anew.

It holds arrays and numbers only (no code): one state per set of plugins and settings, with the revision of the log that
it answers for. A later log starts from it.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from pairing.errors import StoreError
from pairing.host.fault import Fault
from pairing.learned import packed
from pairing.learned.fit import fit
from pairing.learned.learned import Learned
from pairing.learned.prior import Prior
from pairing.learning import liking
from pairing.learning import strength as doses
from pairing.learning.adopted import NO_POOL, Adopted
from pairing.learning.block import Block
from pairing.learning.columns import Columns
from pairing.learning.design import Traits
from pairing.learning.liking import Liking
from pairing.learning.log import Log, read_log
from pairing.learning.ordinal import Ordinal
from pairing.learning.posterior import Posterior
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scatter import Scatter
from pairing.learning.strength import Strength

if TYPE_CHECKING:
    import pandas as pd

    from pairing.api import RuleLike
    from pairing.host import Host
    from pairing.model.shelf import Shelf

__all__ = ["learn_bench", "pack", "state_key", "unpack"]

_Cached = tuple[dict[str, Any], dict[str, Any]]
FORMAT = 13
"""Of the arrays that are kept: rises when they change otherwise than by a block, or what is expected of one does."""
_CUPS = "cup"
"""The block with a column for every cup that was judged more than once."""
AFRESH = 2000
"""Readings up to which everything is learned afresh, in well under a second: the same log gives the same answer,
whatever was asked before (our choice)."""
GROWN = 0.02
"""By which share a larger log may grow until it is learned afresh: updates come close to that, not quite to it (our
choice)."""


class Keeper(Protocol):
    """What learning asks of a bench."""

    @property
    def revision(self) -> int:
        """Number of the last revision of the log."""

    @property
    def settings(self) -> Mapping[str, Any]:
        """Currency, jurisdiction and step of the scale."""

    @property
    def host(self) -> Host:
        """The plugins in use."""

    @property
    def mark(self) -> str:
        """What tells this state of the log from any other."""

    def tables(self, name: list[str]) -> dict[str, pd.DataFrame]:
        """Return some tables as they stand."""

    def shelf(self) -> Shelf:
        """Bases, flavourings and tasters."""

    @property
    def adopted_bytes(self) -> bytes | None:
        """The prior from other kitchens that it learns with."""

    @property
    def public_ids(self) -> Mapping[str, str]:
        """By which ids that prior knows what is on the shelf, where they differ."""

    def load_blob(self, key: str) -> bytes | None:
        """Return a cached state; None when there is none."""

    def store_blob(self, key: str, content: bytes) -> None:
        """Put a state into the cache."""


def state_key(bench: Keeper, others: Others | None = None) -> str:
    """Name of the state that plugins, settings and other kitchens lead to; the state itself knows its revision.

    What was learned with other blocks of columns has another name.
    """
    blocks = zlib.crc32(" ".join(block.name for block in (*liking.BLOCKS, *doses.BLOCKS)).encode())
    settings = json.dumps(dict(bench.settings), sort_keys=True, default=str)
    mark = "" if others is None else others.mark
    return f"learned/{FORMAT}/{blocks}/{bench.host.fingerprint}/{settings}{mark}"


@dataclass(frozen=True)
class Others:
    """What other kitchens know, and by which ids."""

    prior: Prior
    public_ids: Mapping[str, str]
    mark: str

    @classmethod
    def of(cls, bench: Keeper) -> Others | None:
        """Return what a bench has adopted."""
        kept = bench.adopted_bytes
        if kept is None:
            return None
        ids = dict(bench.public_ids)
        digest = hashlib.sha256(kept + json.dumps(ids, sort_keys=True).encode()).hexdigest()[:16]
        return cls(Prior.from_bytes(kept, "the adopted prior"), ids, f"/{digest}")

    def on(self, shelf: Shelf, traits: Traits) -> dict[str, Adopted]:
        """Translate it to a shelf."""
        return self.prior.on(shelf, traits, self.public_ids)


def learn_bench(bench: Keeper) -> Learned:
    """Learn from a bench with its plugins' rules; answer from the cache where nothing has changed, else update it."""
    others = Others.of(bench)
    mark, revision, key, rules = bench.mark, bench.revision, state_key(bench, others), bench.host.asked
    lasting = bench.host.lasting
    own, blob = bench.shelf(), bench.load_blob(key) if lasting else None
    cached = None if blob is None else packed.read(blob)
    if cached is not None and cached[1].get("mark") == mark:
        model = _as_it_was(cached, bench.host, own, others)
        if model is not None and bench.mark == mark:
            return _with_ids_checked(model, bench.host, own)
    tables = bench.tables(["readings", "comparisons"])
    shelf = bench.host.used(own, tables["readings"])
    log = read_log(shelf, tables.pop("readings"))  # a huge table need not be in memory twice
    earlier = None if cached is None else _model(cached, shelf, log, rules, others)
    start = earlier if earlier is not None and _worth_updating(earlier, log) else None
    known: dict[str, Any] = {} if others is None else {"prior": others.prior, "public_ids": others.public_ids}
    model = fit(shelf, log, tables["comparisons"], rules=rules, revision=revision, start=start, **known)
    if lasting and bench.mark == mark:
        with suppress(StoreError):  # a bench that cannot be written to can still be asked
            bench.store_blob(key, pack(model, mark))
    return _with_ids_checked(model, bench.host, own)


def _with_ids_checked(model: Learned, host: Host, shelf: Shelf) -> Learned:
    """Note what the plugins' settings misspell: a legal maximum for a flavouring that nobody has stops nothing."""
    model.rule_columns.note(host.misspelt(shelf))
    return model


def _as_it_was(cached: _Cached, host: Host, own: Shelf, others: Others | None) -> Learned | None:
    """Make the model of a cached state, its log included; None where it is not of this shelf."""
    arrays, meta = cached
    prefix = "log/"
    try:
        shelf = host.used(own, {"base_id": meta["bases"], "flavouring_id": meta["flavourings"]})
        log = packed.read_log({k.removeprefix(prefix): v for k, v in arrays.items() if k.startswith(prefix)})
    except (KeyError, TypeError, ValueError):
        return None
    return _model(cached, shelf, log, host.asked, others)


def _worth_updating(cached: Learned, log: Log) -> bool:
    return len(log) > AFRESH and abs(len(log) - cached.afresh_n) <= GROWN * cached.afresh_n


def pack(model: Learned, mark: str = "") -> bytes:
    """Turn what was learned, and the log that it was learned from, into bytes.

    Parameters
    ----------
    mark : str
        Tells the state of the bench from any other, that of another bench too.
    """
    arrays: dict[str, Any] = {f"log/{name}": array for name, array in packed.pack_log(model.log).items()}
    parts: dict[str, Any] = {"strength": model.strength, "liking": model.liking}
    parts |= {f"likeness:{name}": part for name, part in model.likenesses.items()}
    meta: dict[str, Any] = {
        "mark": mark,
        "revision": model.revision,
        "afresh_n": model.afresh_n,
        "bases": list(model.shelf.bases),
        "flavourings": list(model.shelf.flavourings),
        "tasters": list(model.log.tasters),
        "faults": [asdict(fault) for fault in model.faults],
        "parts": {},
    }
    for name, part in parts.items():
        columns, kept = _without_cups(part)
        for block, keys in columns.keys.items():
            arrays[f"{name}/keys/{block}"] = keys
            arrays[f"{name}/scales/{block}"] = columns.scales[block]
        arrays[f"{name}/mean"] = part.posterior.mean[kept]
        arrays |= _spread(name, part.posterior, kept)
        meta["parts"][name] = {"variances": part.variances, "evidence_n": part.evidence_n, "start": dict(columns.start)}
    arrays["ordinal"] = model.strength.ordinal.parameters
    for name in parts:
        if name != "strength":
            arrays[f"{name}/slopes"] = parts[name].slopes
            arrays[f"{name}/scatter"] = np.append(parts[name].scatter.tasters, parts[name].scatter.stepped)
            meta["parts"][name]["noise_sd"] = parts[name].noise_sd
    return packed.write(arrays, meta)


def _spread(name: str, posterior: Posterior, kept: Any) -> dict[str, Any]:
    """Return the covariance, or draws that stand for one that is too large to hold, of the columns that are kept."""
    if posterior.cov is not None:
        return {f"{name}/cov": posterior.cov.astype(np.float32)}  # without nested columns as it is
    return {f"{name}/draws": posterior.deviations[kept].astype(np.float32)}


def _without_cups(part: Any) -> tuple[Columns, Any]:
    """Columns less those of single cups, which only the cups that were judged can use; and where they stood."""
    columns = part.columns
    gone = _cups_block(columns, part.posterior)
    if gone is None:
        return columns, slice(None)
    gap = columns.slice(gone)
    start = {n: s - len(columns.keys[gone]) if s > gap.start else s for n, s in columns.start.items() if n != gone}
    keys = {n: k for n, k in columns.keys.items() if n != gone}
    scales = {n: k for n, k in columns.scales.items() if n != gone}
    kept = np.delete(np.arange(columns.n), gap)
    return replace(columns, keys=keys, scales=scales, start=start, n=len(kept)), kept


def _cups_block(columns: Columns, posterior: Posterior) -> str | None:
    """Name the block of single cups: the one that was nested, where the covariance is held."""
    if posterior.cov is None:
        return _CUPS if _CUPS in columns.keys else None
    inverse = posterior.inverse
    if inverse is None or inverse.inner is None:
        return None
    return next(name for name in columns.keys if columns.start[name] == inverse.inner[0])


def unpack(blob: bytes, shelf: Shelf, log: Log, rules: Sequence[RuleLike] = ()) -> Learned | None:
    """Make a model from kept bytes; None where they are spoilt or of another shelf or other tasters."""
    cached = packed.read(blob)
    return None if cached is None else _model(cached, shelf, log, rules)


def _model(
    cached: _Cached, shelf: Shelf, log: Log, rules: Sequence[RuleLike], others: Others | None = None
) -> Learned | None:
    """Make the model of a cached state; None where it is of another shelf or other tasters, or not of this form."""
    try:
        return _read(*cached, shelf, log, rules, others)
    except (KeyError, TypeError, ValueError, AttributeError):
        return None


def _read(
    arrays: Mapping[str, Any],
    meta: Mapping[str, Any],
    shelf: Shelf,
    log: Log,
    rules: Sequence[RuleLike],
    others: Others | None,
) -> Learned | None:
    there = {"bases": list(shelf.bases), "flavourings": list(shelf.flavourings), "tasters": list(log.tasters)}
    if any(meta[name] != ids for name, ids in there.items()):
        return None
    traits, rule_columns = Traits.of(shelf, log.lots), RuleColumns.of(shelf, rules)
    pools = {} if others is None else others.on(shelf, traits)
    pool = pools.get("dose", NO_POOL)
    faults = (Fault(**kept | {"ids": tuple(kept["ids"])}) for kept in meta["faults"])
    rule_columns.faults.update({fault.key: fault for fault in faults})
    part = meta["parts"]["strength"]
    strength = Strength(
        traits=traits,
        columns=_columns("strength", part, arrays, doses.blocks_of(traits, rule_columns, pool)),
        posterior=_posterior("strength", arrays),
        variances=_variances(part),
        ordinal=replace(Ordinal.start(pool.ordinal), parameters=arrays["ordinal"]),
        n_tasters=len(log.tasters),
        evidence_n=part["evidence_n"],
        rules=rule_columns,
        pool=pool,
    )
    likings = {
        name: _liking(name, part, arrays, strength, pools.get("liking", NO_POOL) if name == "liking" else None)
        for name, part in meta["parts"].items()
        if name != "strength"
    }
    return Learned(
        shelf=shelf,
        log=log,
        strength=strength,
        liking=likings.pop("liking"),
        likenesses={name.partition(":")[2]: part for name, part in likings.items()},
        rule_columns=rule_columns,
        revision=meta["revision"],
        afresh_n=meta["afresh_n"],
        prior=None if others is None else others.prior,
        public_ids={} if others is None else others.public_ids,
    )


def _liking(name: str, part: Mapping[str, Any], arrays: Any, strength: Strength, pool: Adopted | None) -> Liking:
    """Make a liking; a likeness (``pool`` is None) knows neither rules nor other kitchens."""
    rules = NO_RULES if pool is None else strength.rules
    blocks = liking.blocks_of(strength.traits, rules, pool or NO_POOL)
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
        scatter=Scatter(arrays[f"{name}/scatter"][:-1], float(arrays[f"{name}/scatter"][-1])),
        rules=rules,
        pool=pool or NO_POOL,
    )


def _columns(name: str, part: Mapping[str, Any], arrays: Any, blocks: tuple[Block, ...]) -> Columns:
    prefix = f"{name}/keys/"
    keys = {k.removeprefix(prefix): v for k, v in arrays.items() if k.startswith(prefix)}
    scales = {block: arrays[f"{name}/scales/{block}"] for block in keys}
    n = sum(map(len, keys.values()))
    if len(arrays[f"{name}/mean"]) != n or any(scales[k].shape != keys[k].shape for k in keys):
        raise ValueError("not the columns of that posterior")
    return Columns(blocks, keys, scales, part["start"], n)


def _posterior(name: str, arrays: Any) -> Posterior:
    mean = arrays[f"{name}/mean"]
    if f"{name}/cov" in arrays:
        cov = arrays[f"{name}/cov"]
        _check(mean, cov, (len(mean), len(mean)))
        return Posterior(mean, cov=cov)
    drawn = arrays[f"{name}/draws"]
    _check(mean, drawn, (len(mean), drawn.shape[1]))
    return Posterior(mean, draw=lambda n: drawn[:, :n], n_draws=drawn.shape[1])


def _check(mean: Any, spread: Any, shape: tuple[int, ...]) -> None:
    """Refuse numbers that no learning can have given."""
    if spread.shape != shape or mean.ndim != 1 or not (np.isfinite(mean).all() and np.isfinite(spread).all()):
        raise ValueError("not a posterior")


def _variances(part: Mapping[str, Any]) -> dict[str, float]:
    return {k: float(v) for k, v in part["variances"].items()}
