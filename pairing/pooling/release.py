"""What of a pool may leave it: effects that enough kitchens stand behind, none of them dominating."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import sparse

from pairing.errors import PoolError
from pairing.learned.prior import OFF_NOTE, RESPONSES, Effects, Prior
from pairing.learning.block import About, Block, Entries
from pairing.learning.columns import Columns, places
from pairing.learning.design import Traits
from pairing.model.arrays import Floats, Ints
from pairing.pooling.survey import Behind

if TYPE_CHECKING:
    from pairing.pooling.pool import Pool

__all__ = ["MOST_OF_ONE", "prior_of"]

MOST_OF_ONE = 0.4
"""Share of what stands behind an effect that may come from one kitchen (our choice)."""
LEAST_KITCHENS = 2
SINGLE = {
    "liking": ("average", "plain", "flavourings", "pairs", "stepped", "full glass", "too weak", "too strong"),
    "dose": ("label", "fat*fat_loving", "companions", "stepped"),
}
"""Blocks with a single effect that travel."""
SEVERAL = {
    "liking": ("base", "flavouring", "family", "affinity", "base*family", "pair", "family*family"),
    "dose": ("base", "flavouring", "family", "affinity", "base*family", "masking"),
}
UNNAMED = {"liking": ("trait*flavouring", "pair*base"), "dose": ("trait*flavouring",)}
"""Blocks of which only a variance travels. The effects of traits are told with the cells, since they are of traits that
are standardised over a shelf; those of pairs in one base are too many."""
OWN = {
    "base": ("kitchen*base", "taster*base"),
    "flavouring": ("kitchen*flavouring", "taster*flavouring"),
    "affinity": ("kitchen*affinity",),
    "pair": ("kitchen*pair",),
}
"""Blocks of kitchens and tasters that tell by how much a newcomer's effects will differ from what all share."""
WORD = 1.5
"""Variance of what one strength word tells of the needed dose, in units of that of perception (our choice)."""


def prior_of(pool: Pool, min_kitchens: int, licence: str) -> Prior:
    """Make a prior; see `Pool.prior`."""
    if min_kitchens < LEAST_KITCHENS:
        raise PoolError(
            f"min_kitchens is {min_kitchens}, at least {LEAST_KITCHENS}",
            "an effect that one kitchen stands behind is that kitchen's log",
        )
    found = pool.told.found
    if found["kitchens"] < min_kitchens:
        raise PoolError(
            f"the pool has {found['kitchens']} kitchens, a prior needs {min_kitchens}",
            "wait for more contributions, or ask for a smaller min_kitchens",
        )
    effects: dict[tuple[str, str], Effects] = {}
    for response, blocks in RESPONSES.items():
        part: Any = pool.liking if response == "liking" else pool.strength
        by_name = {block.name: block for block in blocks}
        counts = pool.told.counts(response)
        for name in SINGLE[response]:
            if name in part.columns.keys:
                effects[response, name] = _single(name, part, int(found["kitchens"]))
        for name in SEVERAL[response]:
            behind = counts.get(name)
            if name in part.columns.keys and isinstance(behind, Behind):
                effects[response, name] = _shared(response, by_name[name], behind, part, pool, min_kitchens)
        for name in UNNAMED[response]:
            if name in part.columns.keys:
                effects[response, name] = _unnamed(by_name[name], part)
    effects |= _notes(pool, min_kitchens)
    days = found["days"]
    facts = {
        "kitchens": int(found["kitchens"]),
        "cups": int(found["cups"]),
        "since": days.since,
        "until": days.until,
        "min_kitchens": int(min_kitchens),
        "most_of_one": MOST_OF_ONE,
        "licence": licence,
    }
    return Prior(effects, pool.strength.ordinal.parameters, facts)


def _notes(pool: Pool, min_kitchens: int) -> dict[tuple[str, str], Effects]:
    """Return what may travel of off-notes: of a note, and of what was tasted for it."""
    out: dict[tuple[str, str], Effects] = {}
    bases, flavourings = list(pool.shelf.bases), list(pool.shelf.flavourings)
    blocks: dict[str, list[tuple[str, ...]]] = {
        "average": [()],
        "base": [(b,) for b in bases],
        "flavouring": [(f,) for f in flavourings],
    }
    for note, fit in pool.notes.items():
        assert pool.behind is not None
        start = 0
        if not _enough(fit.found, min_kitchens)[0]:
            continue
        for (block, names), between in zip(blocks.items(), fit.between, strict=True):
            columns = np.arange(start, start + len(names))
            start += len(names)
            at = places(pool.behind.key, columns)
            seen = np.flatnonzero(at >= 0)
            kept = seen[_enough(pool.behind, min_kitchens)[at[seen]]]
            kitchens = pool.behind.kitchens[at[kept]]
            out[OFF_NOTE + note, block] = Effects(
                names=tuple(names[i] for i in kept),
                mean=fit.mean[columns[kept]],
                variance=fit.variance[columns[kept]] + between / kitchens,
                kitchens=kitchens,
                between=between,
                otherwise=fit.strength if block == "average" else fit.spread**2,
                withheld=len(seen) - len(kept),
            )
    return out


def _enough(behind: Behind, min_kitchens: int) -> Any:
    """Tell of which keys enough kitchens stand behind, and none dominates."""
    return (behind.kitchens >= min_kitchens) & (behind.most <= MOST_OF_ONE * behind.count)


def _shared(response: str, block: Block, behind: Behind, part: Any, pool: Pool, min_kitchens: int) -> Effects:
    """Return the effects of a block that may travel."""
    columns: Columns = part.columns
    at = np.searchsorted(behind.key, columns.keys[block.name])
    kitchens, count = behind.kitchens[at], behind.count[at]
    kept = np.flatnonzero(_enough(behind, min_kitchens)[at])
    keys = columns.keys[block.name][kept]
    x = _rows(columns.start[block.name] + kept, columns.n)
    if block.name == "affinity":
        x = x + _by_traits(keys, columns, pool.liking.traits)
    shared, between = float(part.variances[block.name]), _between(block, part)
    noise = pool.liking.noise_sd**2 if response == "liking" else WORD * pool.strength.ordinal.scale**2
    return Effects(
        names=tuple(_names(keys, block.about, pool)),
        mean=np.asarray(x @ part.posterior.mean),
        variance=_unsure(shared, between, noise, kitchens[kept], count[kept]),
        kitchens=kitchens[kept],
        between=between,
        otherwise=shared,
        withheld=len(kitchens) - len(kept),
    )


def _between(block: Block, part: Any) -> float:
    """Variance of kitchens around what they share; where no block tells, in the proportion of that of flavourings."""
    if own := _own(block.name, part):
        return max(own, 1e-6)
    of_flavourings, shared = _own("flavouring", part), float(part.variances["flavouring"])
    share = of_flavourings / max(of_flavourings + shared, 1e-9)
    whole = max(float(part.variances[block.name]) / max(1.0 - share, 0.1), block.var)
    return max(share * whole, 1e-6)


def _own(name: str, part: Any) -> float:
    return float(sum(part.variances[own] for own in OWN.get(name, ()) if own in part.columns.keys))


def _unsure(shared: float, between: float, noise: float, kitchens: Ints, count: Ints) -> Floats:
    """Variance of what is known of each effect, all else given: of as many kitchens, each with its own, and scores.

    All else given, since a newcomer's predictions are of sums: what one effect may owe to another cancels there.
    """
    return np.asarray(1.0 / (1.0 / shared + 1.0 / (between / kitchens + noise / count)))


def _single(name: str, part: Any, kitchens: int) -> Effects:
    """Return the effect of a block that has one."""
    mean = part.posterior.mean[part.columns.start[name]]
    one = np.array([1.0])
    return Effects(((),), mean * one, 0.0 * one, np.array([kitchens]), 1e-6, float(part.variances[name]), 0)


def _unnamed(block: Block, part: Any) -> Effects:
    """Return the variance of a block, and no more."""
    nothing, shared = np.empty(0), float(part.variances[block.name])
    left = _between(block, part) + (shared if block.name == "pair*base" else 0.0)
    return Effects((), nothing, nothing, nothing.astype(np.int64), left, shared, 0)


def _rows(at: Ints, n: int) -> Any:
    """Return rows that pick one column each."""
    return sparse.csr_matrix((np.ones(len(at)), (np.arange(len(at)), at)), (len(at), n))


def _by_traits(keys: Ints, columns: Columns, traits: Traits) -> Any:
    """Return what traits of the base say of cells: traits are standardised over a shelf, so that they cannot travel."""
    base, item = np.divmod(keys, traits.n_flavourings)
    values: Floats = traits.base_traits[base] / np.sqrt(max(traits.base_traits.shape[1], 1))
    row, trait = np.nonzero(values)
    found = Entries.of(row, trait * traits.n_flavourings + item[row], values[row, trait])
    return columns.encode({"trait*flavouring": found}, len(keys)).x


def _names(keys: Ints, about: About, pool: Pool) -> list[tuple[str, ...]]:
    """Read keys back into ids and names of families."""
    traits = pool.liking.traits
    bases, flavourings = list(pool.shelf.bases), list(pool.shelf.flavourings)
    parts: Iterable[list[str]] = (
        [bases] * about.base + [flavourings] * about.flavourings + [list(traits.families)] * about.families
    )
    out: list[tuple[str, ...]] = [()] * len(keys)
    rest = keys
    for names in reversed(list(parts)):
        rest, place = np.divmod(rest, len(names))
        out = [(names[i], *later) for i, later in zip(place.tolist(), out, strict=True)]
    return out
