"""A prior from a pool of kitchens: what may travel, and nothing else, in one file without code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy import sparse

from pairing.errors import PoolError
from pairing.learned import packed
from pairing.learning.adopted import LEAST_VARIANCE, POOL, Adopted, Known
from pairing.learning.block import About, Block
from pairing.learning.design import Traits
from pairing.learning.liking import BLOCKS as LIKING
from pairing.learning.off_notes import Expected
from pairing.learning.ordinal import Ordinal
from pairing.learning.strength import BLOCKS as DOSE
from pairing.model.arrays import Floats, Ints

if TYPE_CHECKING:
    from pairing.learning.liking import Liking
    from pairing.model.shelf import Shelf

__all__ = ["Effects", "Prior", "share_of"]

FORMAT = 1
OFF_NOTE = "off-note "
"""What stands before a note where it is a response; of these ``otherwise`` of the average is how strong it is found."""
RESPONSES: Mapping[str, tuple[Block, ...]] = {"liking": LIKING, "dose": DOSE}


@dataclass(frozen=True, eq=False)
class Effects:
    """What kitchens share of one block.

    Attributes
    ----------
    names : tuple of tuples of str
        What each effect is about: a base, then flavourings, then families; nothing for a block with a single effect.
    mean, variance : arrays, shape (n,)
        Points, or natural log of the dose over the label.
    kitchens : int array, shape (n,)
        How many kitchens stand behind each.
    between : float
        Variance of kitchens around what they share.
    otherwise : float
        Variance of what they share, for what is not named here.
    withheld : int
        Effects that too few kitchens stand behind, or that one of them dominates.
    """

    names: tuple[tuple[str, ...], ...]
    mean: Floats
    variance: Floats
    kitchens: Ints
    between: float
    otherwise: float
    withheld: int


@dataclass(frozen=True, eq=False)
class Prior:
    """Means and variances of what kitchens have in common, by name.

    Made by `Pool.prior`; used by ``pairing.learn(…, prior=prior)`` and ``bench.adopt(prior)``.

    Attributes
    ----------
    effects : mapping of (response, block) to Effects
        The response is ``liking`` or ``dose``.
    ordinal : array, shape (5,)
        See `pairing.learning.ordinal.Ordinal`.
    facts : mapping
        ``kitchens, cups, since, until, min_kitchens, most_of_one, licence``.
    """

    effects: Mapping[tuple[str, str], Effects]
    ordinal: Floats
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def about(self) -> pd.DataFrame:
        """What it knows: ``response, block, keys, kitchens`` (in the median) and ``withheld``; facts in ``attrs``."""
        rows = [
            (response, block, len(one.mean), int(np.median(one.kitchens)) if len(one.kitchens) else 0, one.withheld)
            for (response, block), one in self.effects.items()
        ]
        table = pd.DataFrame(rows, columns=["response", "block", "keys", "kitchens", "withheld"])
        table.attrs.update(self.facts)
        return table

    @property
    def bases(self) -> tuple[str, ...]:
        """Bases that it knows, by public id."""
        return tuple(sorted({names[0] for names in self.effects["liking", "base"].names}))

    @property
    def flavourings(self) -> tuple[str, ...]:
        """Flavourings that it knows, by public id."""
        known = (self.effects[response, "flavouring"].names for response in RESPONSES)
        return tuple(sorted({names[0] for some in known for names in some}))

    def known_on(self, shelf: Shelf, public_ids: Mapping[str, str] | None = None) -> dict[str, list[str]]:
        """Return which bases and flavourings of a shelf it knows, by one's own ids."""
        public = public_ids or {}
        sides = {"bases": (shelf.bases, self.bases), "flavourings": (shelf.flavourings, self.flavourings)}
        return {what: [own for own in items if public.get(own, own) in known] for what, (items, known) in sides.items()}

    # --- on one shelf ----------------------------------------------------------------------------------------------

    def on(self, shelf: Shelf, traits: Traits, public_ids: Mapping[str, str] | None = None) -> dict[str, Adopted]:
        """Translate it to a shelf: an `Adopted` for ``liking`` and one for the ``dose``.

        Parameters
        ----------
        public_ids : mapping of own id to public id, optional
            Ids that are not in it are public as they are.
        """
        public = public_ids or {}
        index = {
            "base": _index(shelf.bases, public),
            "flavouring": _index(shelf.flavourings, public),
            "family": {name: [place] for place, name in enumerate(traits.families)},
        }
        out = {}
        for response, blocks in RESPONSES.items():
            known, means, variances = {}, {}, {}
            for block in blocks:
                one = self.effects.get((response, block.name))
                if one is None:
                    continue
                if block.fixed:
                    means[block.name] = float(one.mean[0])
                elif not one.names:
                    variances[block.name] = max(one.between, LEAST_VARIANCE)
                else:
                    known[block.name] = _known(one, block.about, index, traits)
            out[response] = Adopted(
                known, means, variances, ordinal=Ordinal(self.ordinal) if response == "dose" else None
            )
        return out

    def off_notes_on(self, shelf: Shelf, public_ids: Mapping[str, str] | None = None) -> dict[str, Expected]:
        """Translate what it knows of off-notes to a shelf, by note."""
        n_bases, n_flavourings = len(shelf.bases), len(shelf.flavourings)
        index: dict[str, tuple[int, dict[str, list[int]]]] = {
            "base": (1, _index(shelf.bases, public_ids or {})),
            "flavouring": (1 + n_bases, _index(shelf.flavourings, public_ids or {})),
        }
        out = {}
        for response, _ in self.effects:
            if not response.startswith(OFF_NOTE) or response.removeprefix(OFF_NOTE) in out:
                continue
            mean, variance = (np.full(1 + n_bases + 2 * n_flavourings, np.nan) for _ in range(2))
            whole = self.effects[response, "average"]
            mean[:1], variance[:1] = whole.mean, whole.variance + whole.between
            for block, (start, places) in index.items():
                one = self.effects[response, block]
                for row, (name,) in enumerate(one.names):
                    at = [start + place for place in places.get(name, ())]
                    mean[at], variance[at] = one.mean[row], one.variance[row] + one.between
            out[response.removeprefix(OFF_NOTE)] = Expected(mean, variance, whole.otherwise)
        return out

    # --- in a file -------------------------------------------------------------------------------------------------

    def to_bytes(self) -> bytes:
        """Return it as bytes: arrays and texts, no program."""
        arrays: dict[str, Any] = {"ordinal": self.ordinal}
        meta: dict[str, Any] = {"format": FORMAT, "facts": dict(self.facts), "effects": []}
        for (response, block), one in self.effects.items():
            told = [response, block, [list(names) for names in one.names], one.between, one.otherwise, one.withheld]
            meta["effects"].append(told)
            for name in ("mean", "variance", "kitchens"):
                arrays[f"{response}/{block}/{name}"] = getattr(one, name)
        return packed.write(arrays, meta)

    @classmethod
    def from_bytes(cls, content: bytes, what: str = "the prior") -> Prior:
        """Read what `to_bytes` wrote.

        Raises
        ------
        PoolError
            When it is spoilt, or of another version.
        """
        found = packed.read(content)
        if found is None:
            raise PoolError(f"{what} is no prior, or is spoilt", "fetch it again from where it was made")
        arrays, meta = found
        if meta.get("format") != FORMAT:
            raise PoolError(f"{what} is of version {meta.get('format')}, not {FORMAT}", "bring this program up to date")
        try:
            effects = {
                (response, block): _checked(names, arrays, f"{response}/{block}", between, otherwise, withheld)
                for response, block, names, between, otherwise, withheld in meta["effects"]
            }
            return cls(effects, np.asarray(arrays["ordinal"], np.float64).reshape(5), meta["facts"])
        except (KeyError, TypeError, ValueError) as error:
            raise PoolError(
                f"{what} holds what no prior can: {error}", "fetch it again from where it was made"
            ) from None

    def save(self, path: str | Path) -> Path:
        """Write it to one file, and return its path."""
        place = Path(path)
        place.write_bytes(self.to_bytes())
        return place

    @classmethod
    def load(cls, path: str | Path) -> Prior:
        """Read a file that `save` wrote.

        Raises
        ------
        PoolError
            When there is none, when it is spoilt, or of another version.
        """
        try:
            return cls.from_bytes(Path(path).read_bytes(), str(path))
        except OSError as error:
            raise PoolError(f"{path} cannot be read: {error.strerror}", "name a file that `Prior.save` wrote") from None

    def __repr__(self) -> str:
        return f"<Prior of {self.facts.get('kitchens', '?')} kitchens, {self.facts.get('cups', '?')} cups>"


def share_of(liking: Liking) -> tuple[float, float] | None:
    """By how much what other kitchens expect counts in what was learned, 1 in full: mean and sd."""
    at = liking.columns.start.get(POOL)
    if at is None:
        return None
    row = sparse.csr_matrix(([1.0], ([0], [at])), (1, liking.columns.n))
    return float(liking.posterior.mean[at]), float(np.sqrt(liking.posterior.variance(row)[0]))


def _index(items: Mapping[str, Any], public: Mapping[str, str]) -> dict[str, list[int]]:
    """Places on the shelf by public id; two of one's own may stand for the same."""
    out: dict[str, list[int]] = {}
    for place, own in enumerate(items):
        out.setdefault(public.get(own, own), []).append(place)
    return out


def _known(one: Effects, about: About, index: Mapping[str, Mapping[str, Sequence[int]]], traits: Traits) -> Known:
    """Turn names into keys of a shelf; what is not on the shelf is left out."""
    what = ["base"] * about.base + ["flavouring"] * about.flavourings + ["family"] * about.families
    size = {"base": traits.n_bases, "flavouring": traits.n_flavourings, "family": max(len(traits.families), 1)}
    keys, rows = [], []
    for row, names in enumerate(one.names):
        places: list[tuple[int, ...]] = [()]
        for kind, name in zip(what, names, strict=True):
            places = [(*before, at) for before in places for at in index[kind].get(name, ())]
        for place in places:
            several = (
                sorted(place[about.base :]) if about.flavourings > 1 or about.families > 1 else place[about.base :]
            )
            key = 0
            for kind, at in zip(what, (*place[: about.base], *several), strict=True):
                key = key * size[kind] + at
            keys.append(key)
            rows.append(row)
    key_array, first = np.unique(np.array(keys, np.int64), return_index=True)
    chosen = np.array(rows, np.int64)[first]
    between = max(one.between, LEAST_VARIANCE)
    return Known(key_array, one.mean[chosen], one.variance[chosen], between, one.otherwise)


def _checked(
    names: Any, arrays: Mapping[str, Any], place: str, between: float, otherwise: float, withheld: int
) -> Effects:
    """Refuse numbers that no learning can have given."""
    mean, variance, kitchens = (arrays[f"{place}/{name}"] for name in ("mean", "variance", "kitchens"))
    named = tuple(tuple(map(str, one)) for one in names)
    if not len(named) == len(mean) == len(variance) == len(kitchens):
        raise ValueError(f"{place} has {len(named)} names for {len(mean)} means")
    if not (np.isfinite(mean).all() and np.isfinite(variance).all() and (variance >= 0).all() and between > 0):
        raise ValueError(f"{place} has a value that is not finite, or a negative variance")
    if np.abs(mean).max(initial=0.0) > 10.0:
        raise ValueError(f"{place} has an effect of over 10")
    return Effects(named, mean, variance, kitchens, float(between), float(otherwise), int(withheld))
