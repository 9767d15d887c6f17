"""Taking tables into a bench: what is new goes in, what is there is skipped, what contradicts comes back.

Rows are read and compared at leisure, and stored in a short transaction; many of them a part at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError
from pairing.model.columns import TABLES, table_named
from pairing.model.shelf import Shelf
from pairing.store import bulk, ledger, restore, restoring, stamps, state
from pairing.store.calibrations import with_lots
from pairing.store.compared import (
    another_version,
    compare,
    conflict,
    of_readings,
    only_fills,
    positions,
    same_base,
    whole_readings,
    with_kept_cells,
)
from pairing.store.exchange import Cleaned, clean
from pairing.store.food_use import declared, note_unstated
from pairing.store.in_use import lots_in_use
from pairing.store.known import known_names
from pairing.store.load_report import LoadReport
from pairing.store.notes import Note
from pairing.store.oddities import differ_by_case, odd_readings, taken_out
from pairing.store.problems import Problems, refused_frame
from pairing.store.watched import Watch
from pairing.store.words import refuse_unplaced

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Database, Transaction

__all__ = ["load"]

ORDER = (
    *("bases", "flavourings", "tasters", "targets", "readings", "steps", "comparisons", "calibrations"),
    *("lots", "weighings", "recipes", "photos"),
)
_DESCRIBED = ("bases", "flavourings", "tasters", "targets", "lots")
"""Tables whose rows say more of a thing: what was not known of it may be added without asking."""


def load(
    db: Database,
    author: str,
    sources: Mapping[str, Any],
    *,
    on_conflict: str = "refuse",
    liking_scale: int = 9,
    food_use: str | None = None,
    past: restore.Past | None = None,
    watch: Watch | None = None,
    before: Callable[[Transaction], None] = lambda tx: None,
) -> LoadReport:
    """Load tables in one revision.

    Parameters
    ----------
    sources : mapping of table name to path or DataFrame
    on_conflict : {"refuse", "revise"}
        What happens to a row whose key is there with other content.
    food_use : {"yes", "no", "unknown"}, optional
        What every empty cell of that column stands for.
    past : dict
        Revisions and replaced rows of an export, put into a bench that is empty.
    watch : Watch, optional
        Who looks at tasters and readings beyond the form of their rows.
    before : callable
        Writes something in the transaction that lets the rows count, before they do.
    """
    for name in sources:
        table_named(name)
    if on_conflict not in ("refuse", "revise"):
        raise TableError(f"on_conflict is {on_conflict!r}", "use refuse or revise")

    def look(tx: Transaction) -> _Plan:
        plan = _plan(tx, sources, on_conflict == "revise", liking_scale, food_use, past or {}, watch)
        return replace(plan, before=before)

    return bulk.load(db, author, look, _store, _in_parts)


@dataclass(frozen=True)
class _Plan:
    """What a load will do; ``whole``: every row that counts has a stamp of the past that comes along."""

    report: LoadReport
    pending: dict[str, pd.DataFrame]
    past: restore.Past
    whole: bool
    at_once: bool
    before: Callable[[Transaction], None] = lambda tx: None

    @property
    def about(self) -> str:
        """What it adds, in words for the history."""
        return ", ".join(f"{name} {len(rows)}" for name, rows in self.pending.items() if len(rows))

    @property
    def rows(self) -> int:
        """How many rows it adds."""
        return sum(map(len, self.pending.values()))


def _plan(
    tx: Transaction,
    sources: Mapping[str, Any],
    revise: bool,
    liking_scale: int,
    food_use: str | None,
    past: restore.Past,
    watch: Watch | None,
) -> _Plan:
    """Clean the tables and compare them with what is kept."""
    import pandas as pd

    work = _Work(tx, revise, watch)
    refused: list[pd.DataFrame] = []
    accepted: dict[str, int] = {}
    revised: dict[str, int] = {}
    skipped: dict[str, int] = {}
    notes: list[Note] = []
    decimal_comma: dict[str, bool | None] = {}
    faults: list[TableError] = []
    for name in ORDER:
        if sources.get(name) is None:
            continue
        try:
            cleaned = clean(name, sources[name], known=work.known(), liking_scale=liking_scale)
        except TableError as error:
            faults.append(error)
            continue
        if name == "flavourings":
            cleaned = cleaned if food_use is None else declared(cleaned, food_use)
            notes += note_unstated(cleaned)
        merged = work.merge(name, cleaned)
        decimal_comma[name] = cleaned.decimal_comma
        refused += [f for f in (cleaned.refused, merged.refused) if len(f)]
        accepted[name], revised[name] = merged.accepted, merged.revised
        skipped[name] = merged.skipped + len(cleaned.skipped)
        notes += [n for n in (*cleaned.notes, *merged.notes) if n not in notes]
    if len(faults) > 1:
        hints = dict.fromkeys(fault.hint for fault in faults)
        raise TableError("; ".join(fault.message for fault in faults), "; ".join(hints))
    if faults:
        raise faults[0]
    report = LoadReport(
        refused=pd.concat(refused, ignore_index=True) if refused else refused_frame([]),
        accepted=accepted,
        skipped={k: v for k, v in skipped.items() if v},
        revised={k: v for k, v in revised.items() if v},
        notes=tuple(notes),
        decimal_comma=decimal_comma,
    )
    past = (past or restore.past_of_stamps(work.pending)) if tx.state()[1] == 0 else {}
    whole = bool(past) and restore.is_whole(past, work.pending)
    stamped = not whole if past else stamps.taken_over(tx, work.pending) is not None
    return _Plan(report, work.pending, past, whole, at_once=stamped)


def _in_parts(db: Database, author: str, plan: _Plan, seen: tuple[int, int]) -> int | None:
    return (restoring.in_parts if plan.past else bulk.in_parts)(db, author, plan, seen)


def _store(tx: Transaction, plan: _Plan) -> LoadReport:
    """Store what a load adds, in one transaction."""
    revision: int | None = None
    plan.before(tx)
    if plan.past:
        restore.restore_revisions(tx, plan.past)
        batches = {number: batch for batch, number in ledger.numbers(tx).items()}
        for name, rows, numbers in restore.rows_of(plan.past, plan.pending if plan.whole else {}):
            ledger.append(tx, name, rows, [batches[number] for number in numbers])
        state.restore(tx, plan.past)
        revision = ledger.log_revision(tx) if plan.rows else None
    if plan.rows and not plan.whole:
        revision = stamps.keep(tx, plan.pending, plan.about)
    return replace(plan.report, revision=revision)


@dataclass
class _Merged:
    refused: pd.DataFrame
    accepted: int
    skipped: int
    revised: int
    notes: tuple[Note, ...]


@dataclass
class _Work:
    """A load under way: what is kept, and what is to be added at its end."""

    tx: Transaction
    revise: bool
    watch: Watch | None = None
    pending: dict[str, pd.DataFrame] = field(default_factory=dict)
    _ids: dict[str, dict[str, str]] = field(default_factory=dict)

    def known(self) -> dict[str, dict[str, str]]:
        """Return what may be referred to, names by id, this load's included."""
        if not self._ids:
            self._ids = known_names(self.tx)
        for name in self._ids:
            if name in self.pending:
                rows = self.pending[name]
                self._ids[name] |= dict(zip(rows[TABLES[name].key[0]], rows["name"], strict=True))
        return self._ids

    def merge(self, name: str, cleaned: Cleaned) -> _Merged:
        """Compare clean rows with what is kept."""
        spec, table = TABLES[name], cleaned.table
        keys = ledger.row_keys(spec, table)
        kept = ledger.latest(self.tx, name, **({"trials": table["trial_id"]} if name == "readings" else {"keys": keys}))
        at = positions(kept, keys)
        there = at >= 0
        there[there] = kept["gone"].to_numpy()[at[there]] == 0
        compared = [c for c in cleaned.present if c not in spec.key]
        same, first = compare(table, kept, at, there, compared)
        add, differ = ~there, there & ~same
        removed = kept.iloc[:0]
        if name == "readings" and len(kept):
            add, differ, same, removed = whole_readings(table, kept, at, there, same)
            if not self.revise:
                lost = same & of_readings(table, removed)
                differ, same = differ | lost, same & ~lost
        fills = np.zeros(len(table), dtype=bool)
        if name in _DESCRIBED and cleaned.stamps is None and differ.any():
            fills, differs = only_fills(table, kept, at, differ, compared, ledger.versions(self.tx, name))
            first |= differs
        problems = Problems(numbers=cleaned.rows)
        if name == "readings":
            same_base(table, kept, problems)
        if name == "tasters" and self.watch is not None and len(table) and cleaned.stamps is None:
            for at_row, one in self.watch.unplaced(table, self._shelf()):
                problems.refuse([at_row], one.column, table[one.column].iloc[at_row], one.reason, one.remedy)
        if name in ("bases", "flavourings") and cleaned.stamps is None:
            refuse_unplaced(table, np.flatnonzero(~same), problems)
        if not self.revise:
            for i in np.flatnonzero(differ & ~fills):
                old = kept.iloc[at[i]] if there[i] else None
                problems.refuse([i], *conflict(spec.key, table.iloc[i], old, first.get(int(i))))
        elif name == "recipes":
            for i in np.flatnonzero(differ & there):
                another_version(table, kept, int(at[i]), int(i), problems)
        good = problems.good(len(table))
        chosen = (add | differ) & good & ~same
        rows = with_kept_cells(table, kept, at, chosen, cleaned.present)
        rows["row_key"] = keys if chosen.all() else [keys[i] for i in np.flatnonzero(chosen)]
        if cleaned.stamps is not None:
            rows[list(cleaned.stamps.columns)] = cleaned.stamps.to_numpy(dtype=object)[chosen]
        revised = int((chosen & there).sum())
        removed = removed[self.revise & ~of_readings(removed, table[~good])]
        if len(removed):
            import pandas as pd

            rows = pd.concat([rows.assign(gone=0), removed.assign(gone=1)], ignore_index=True)
        notes = (*self._odd(name, table[chosen], cleaned.rows[chosen]), *taken_out(removed))
        self.pending[name] = rows
        records = problems.records(name)
        refused = refused_frame(records, cleaned.given.iloc[sorted(problems.found)]) if records else refused_frame([])
        return _Merged(refused, int(chosen.sum()) - revised, int(same.sum()), revised + len(removed), notes)

    def _odd(self, name: str, table: pd.DataFrame, numbers: np.ndarray) -> list[Note]:
        """Note what is odd in the rows that go in."""
        if name in ("bases", "flavourings"):
            key = TABLES[name].key[0]
            return differ_by_case(table[key], key, self.known()[name])
        if name != "readings" or table.empty:
            return []
        shelf = self._shelf()
        kept = {column: ledger.used(self.tx, name, column) for column in ("taster", "session")}
        kept["trial_id"] = ledger.but_for_case(self.tx, name, "trial_id", set(table["trial_id"]))
        odd = odd_readings(table, numbers, shelf, kept)
        return odd if self.watch is None else [*odd, *self.watch.judged(table), *self.watch.drunk(table, shelf)]

    def _shelf(self) -> Shelf:
        """Return the shelf as it will be."""
        import pandas as pd

        parts = {"calibrations": ledger.current(self.tx, "calibrations")}
        for name in ("bases", "flavourings", "tasters"):
            coming = self.pending.get(name)
            rows = [*([] if coming is None else [coming]), ledger.current(self.tx, name)]
            both = pd.concat([r[list(TABLES[name].names)] for r in rows if len(r)] or rows[-1:], ignore_index=True)
            parts[name] = both.drop_duplicates(TABLES[name].key[0])
        shelf = with_lots(parts, lots_in_use(self.tx).names)
        return replace(shelf, jurisdiction=state.read_settings(self.tx)["jurisdiction"])
