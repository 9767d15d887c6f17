"""What a bench does beside its tables: cups in hand, learned state, copies, another bench, a person who leaves."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import ConflictError
from pairing.model.columns import TABLES
from pairing.store import backup, erasing, ledger, loading, merging, places, state
from pairing.store.rights import check

if TYPE_CHECKING:
    from pairing.store.database import Database
    from pairing.store.erasing import Erased
    from pairing.store.merging import MergeReport

__all__ = ["Keeping"]


class Keeping:
    """Part of `pairing.bench.Bench`, which brings its database, its author and its transactions."""

    author: str
    _db: Database
    _ask: Callable[..., Any]
    _write: Callable[..., Any]

    # -- cups in hand and learned state ---------------------------------------------------------------------------

    def save_draft(self, draft_id: str, content: Mapping[str, Any], expected_version: int | None = None) -> int:
        """Save a cup in hand and return its version; with ``expected_version`` a newer one is a conflict."""
        version: int = self._write(state.save_draft, draft_id, content, expected_version)
        return version

    def load_draft(self, draft_id: str) -> dict[str, Any] | None:
        """Return a cup in hand, None when there is none."""
        found: dict[str, Any] | None = self._ask(state.load_draft, draft_id)
        return found

    def list_drafts(self) -> list[dict[str, Any]]:
        """Return ``draft_id, version, saved_at`` of the cups in hand, last saved first."""
        found: list[dict[str, Any]] = self._ask(state.list_drafts)
        return found

    def drop_draft(self, draft_id: str) -> None:
        """Forget a cup in hand."""
        self._write(state.drop_draft, draft_id)

    def store_blob(self, key: str, content: bytes) -> None:
        """Keep learned state under a key; the last eight are kept."""
        self._write(state.store_blob, key, content)

    def load_blob(self, key: str) -> bytes | None:
        """Return learned state, None when it is not kept."""
        found: bytes | None = self._ask(state.load_blob, key)
        return found

    # -- the bench as a whole -------------------------------------------------------------------------------------

    def backup(self, target: str | Path) -> Path:
        """Copy the bench to a new folder, which opens like any bench, while it is in use; return the folder.

        File, plugin files and their settings go along; of a server everything that it holds, as a folder.

        Raises
        ------
        StoreError
            When there is a bench already, or the copy cannot be written: nothing is left of it then.
        """
        return backup.backup(self._db, Path(target))

    def merge(self, other: str | Path | Keeping) -> MergeReport:
        """Take in another bench of the same person or team, as one revision that `Bench.undo` takes back.

        Nothing is doubled. An id that means something else there is kept apart as ``id~2``. What the cups were before
        comes along, with who wrote it and when, but for what was undone; settings and cups in hand stay there. A
        prior that the other had adopted comes along where this bench has none (an undo leaves it: `Bench.adopt` with
        None drops it).

        Parameters
        ----------
        other : Bench, or path or URL of one

        Raises
        ------
        ConflictError
            When the two reckon in different currencies.
        """
        db = other._db if isinstance(other, Keeping) else places.find(other)
        with db.reading() as tx:
            theirs = {name: ledger.current(tx, name, TABLES[name].names) for name in TABLES}
            past, currency = merging.past_of(tx), state.read_settings(tx)["currency"]
            prior, public = state.kept(tx, state.PRIOR), state.public_ids(tx)
        with self._db.reading(self.author) as tx:
            check(tx, "merge")
            ours = {name: ledger.current(tx, name, TABLES[name].names) for name in TABLES}
            own = state.read_settings(tx)["currency"]
        if own != currency:
            raise ConflictError(
                f"this bench reckons in {own}, the other in {currency}: one bench has one currency",
                "export the other, change its costs, and load it",
            )
        tables, renamed, past = merging.merged(ours, theirs, past)
        filled = {n: t for n, t in tables.items() if len(t)}
        report = loading.load(self._db, self.author, filled, before=partial(merging.bring, past))
        items = renamed[renamed["table"].isin(("bases", "flavourings"))]
        calls = dict(zip(items["id"], items["kept_as"], strict=True))
        taken = self._write(state.take_over, prior, {calls.get(own, own): name for own, name in public.items()})
        return merging.MergeReport(
            accepted={k: v for k, v in report.accepted.items() if v},
            there=report.skipped,
            renamed=renamed,
            refused=report.refused,
            notes=tuple(map(str, report.notes)),
            revision=report.revision,
            prior=taken,
        )

    def erase_taster(self, taster: str) -> Erased:
        """Erase a taster for good: name, body mass, age and what is avoided, in past revisions too; the cups stay.

        This cannot be taken back. Copies, exports, plugin files and what was written in free text are not reached.

        Raises
        ------
        UnknownIdError
            When nobody of that name is, or was, in the tables.
        """
        return erasing.erase_taster(self._db, self.author, taster)
