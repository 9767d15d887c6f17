"""What a bench gives to a pool, and takes from one."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import PoolError
from pairing.store import state
from pairing.store.rights import check

if TYPE_CHECKING:
    import pandas as pd

    from pairing.learned.prior import Prior
    from pairing.model.shelf import Shelf

__all__ = ["Sharing"]


class Sharing:
    """Part of `pairing.bench.Bench`, which brings its shelf, its tables and its transactions."""

    shelf: Callable[[], Shelf]
    tables: Callable[[str], pd.DataFrame]
    _ask: Callable[..., Any]
    _write: Callable[..., Any]

    # -- taking ---------------------------------------------------------------------------------------------------

    def adopt(self, prior: Prior | str | Path | None) -> None:
        """Learn with what other kitchens know from now on; None drops it. Nothing that was logged changes.

        Parameters
        ----------
        prior : Prior, path of a file that `Prior.save` wrote, or None

        Raises
        ------
        PoolError
            When the file is no prior, and when the prior knows neither a base nor a flavouring of this bench.
        """
        from pairing.learned.prior import Prior

        if prior is None:
            self._write(state.drop_kept, state.PRIOR)
            return
        told = prior if isinstance(prior, Prior) else Prior.load(prior)
        public = self.public_ids
        shelf = self.shelf()
        known = {public.get(own, own) for own in (*shelf.bases, *shelf.flavourings)}
        if not told.bases and not told.flavourings:
            raise PoolError(
                "the prior names no base and no flavouring: too few kitchens stand behind any, or one dominates",
                "wait for a prior of more kitchens",
            )
        if not known & {*told.bases, *told.flavourings}:
            raise PoolError(
                "the prior knows no base and no flavouring of this bench",
                "say which of yours is which of the pool's: bench.name_publicly({'my-id': 'public-id'})",
            )
        self._write(state.keep, state.PRIOR, told.to_bytes())

    @property
    def adopted(self) -> Prior | None:
        """The prior that this bench learns with."""
        from pairing.learned.prior import Prior

        kept = self.adopted_bytes
        return None if kept is None else Prior.from_bytes(kept, "the adopted prior")

    @property
    def adopted_bytes(self) -> bytes | None:
        """The same as it is kept."""
        kept: bytes | None = self._ask(state.kept, state.PRIOR)
        return kept

    @property
    def adopted_mark(self) -> str:
        """What tells what is adopted now from what was before."""
        found: str = self._ask(state.kept_mark)
        return found

    # -- giving ---------------------------------------------------------------------------------------------------

    @property
    def public_ids(self) -> dict[str, str]:
        """Public id of each base and flavouring of one's own that has one; the empty text keeps it at home."""
        found: dict[str, str] = self._ask(state.public_ids)
        return found

    def name_publicly(self, public_ids: Mapping[str, str | None]) -> dict[str, str]:
        """Say by which public id a pool knows one's own bases and flavourings; None keeps one at home.

        Raises
        ------
        PoolError
            When an id is not on the shelf, or a public id is no plain word.
        """
        from pairing.pooling.contribution import check_public_ids

        checked = self.public_ids | check_public_ids(public_ids, self.shelf())
        self._write(state.keep, state.PUBLIC_IDS, json.dumps(checked, sort_keys=True).encode())
        return checked

    def suggest_public_ids(self, folder: str | Path) -> pd.DataFrame:
        """Suggest which of a pool's bases and flavourings one's own are: the same id, the same name, or one like it.

        Returns
        -------
        DataFrame
            ``item`` (base or flavouring)``, own_id, name, public_id, public_name, why`` (named|same id|same
            name|alike); without a suggestion ``public_id`` is empty.
        """
        from pairing.pooling.contribution import suggested

        return suggested(self.shelf(), self.public_ids, Path(folder))

    def contribute(
        self,
        folder: str | Path,
        *,
        kitchen: str,
        public_ids: Mapping[str, str | None] | None = None,
        write: bool = True,
    ) -> pd.DataFrame:
        """Write this bench's readings and comparisons into a pool in place of what it gave, and return what leaves.

        Ids are public ones, tasters, sessions, trials and lots are numbered, days become months, and doses are those
        that the pool's label directions would make of the bottle; of a comparison its question, both recipes and the
        answer: notes, authors, names of people, photos, prices and
        everything that is not a column of the answer stay at home, and so does every cup with a base or flavouring
        that has no public id.

        Parameters
        ----------
        folder : path
            A pool, or a folder that becomes one.
        kitchen : str
            A name for this kitchen that tells nobody who it is: small letters, digits and hyphens.
        public_ids : mapping, optional
            As of `name_publicly`; kept for the next time once it is written.
        write : bool
            False: only show what would leave; nothing is changed.

        Returns
        -------
        DataFrame
            Columns of `readings`; ``attrs``: ``cups, kept_home`` (cups)``, because`` (ids and how many cups they
            keep)``, comparisons`` (records of ``question, left, right, answer``).

        Raises
        ------
        PoolError
            When an id has no public one yet, when nothing is left to give, or the folder cannot be written.
        StoreError
            When who gives is not an owner.
        """
        from pairing.pooling.contribution import check_public_ids, contribution, write_contribution

        shelf = self.shelf()
        public = self.public_ids | check_public_ids(public_ids or {}, shelf)
        given = contribution(shelf, self.tables("readings"), self.tables("comparisons"), public, Path(folder), kitchen)
        if write:
            self._ask(check, "give")
            self.name_publicly(public_ids or {})
            write_contribution(given, Path(folder), kitchen)
        return given.readings

    def withdraw(self, folder: str | Path, *, kitchen: str) -> int:
        """Take back what a kitchen gave to a pool, and return how many files that were.

        Raises
        ------
        PoolError
            When the pool has nothing of that kitchen.
        StoreError
            When who withdraws is not an owner.
        """
        from pairing.pooling.contribution import withdraw

        self._ask(check, "give")
        return withdraw(Path(folder), kitchen)
