"""Two benches of one person or team in one: what both have is there once, what differs is kept apart.

An id that means something else in the other bench gets ``~2`` behind it (``~3``, …), here and wherever its rows refer
to it. What the merged cups were before, when and by whom, comes along as revisions that never count.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pairing.errors import ConflictError
from pairing.model.columns import TABLES
from pairing.model.fields import is_missing
from pairing.model.recipe import parse_recipe_text, recipe_text
from pairing.store import ledger

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["MergeReport", "Past", "bring", "merged", "past_of"]

Tables = Mapping[str, "pd.DataFrame"]
_FACTS = {"bases": "base_id", "flavourings": "flavouring_id", "targets": "target_id", "tasters": "taster"}
"""Tables with one row per id, to which others refer."""
_GROUPS = {"comparisons": "check_id", "recipes": "recipe_id", "photos": "photo_id"}
"""Tables with several rows per id, to which nothing refers."""
_TRIALS = ("readings", "steps")


@dataclass(frozen=True)
class MergeReport:
    """What became of another bench's rows.

    Attributes
    ----------
    accepted, there : dict of table to int
        Rows that went in, and those that were here already.
    renamed : pandas.DataFrame
        ``table, id, kept_as``: ids that mean something else here.
    refused : pandas.DataFrame
        Rows that contradict what is here under the same key, as `LoadReport.refused`.
    notes : tuple of str
    revision : int or None
        The revision that an undo takes back; None when there was nothing new.
    prior : bool
        Whether what the other had adopted from a pool came along.
    """

    accepted: Mapping[str, int]
    there: Mapping[str, int]
    renamed: pd.DataFrame
    refused: pd.DataFrame
    notes: tuple[str, ...] = ()
    revision: int | None = None
    prior: bool = False


@dataclass
class _Names:
    """Ids of the other bench and what they are called here, by table."""

    by_table: dict[str, dict[str, str]] = field(default_factory=dict)

    def of(self, table: str, name: Any) -> Any:
        return self.by_table.get(table, {}).get(name, name)

    def item(self, name: Any, kind: Any = None) -> Any:
        """Return what a base or flavouring is called; only what is poured is looked for among bases first."""
        order = ("bases", "flavourings") if kind == "pour" else ("flavourings", "bases")
        return next((self.by_table[t][name] for t in order if name in self.by_table.get(t, {})), name)

    def recipe(self, text: str) -> str:
        """Return a recipe text, or a trial's id, with what is in it called as here."""
        if "|" not in text:
            return str(self.of("trials", text))
        made = parse_recipe_text(text)
        if self.of("bases", made.base_id) == made.base_id and all(self.of("flavourings", k) == k for k in made.doses):
            return text  # as it was written
        doses = {self.of("flavourings", k): v for k, v in made.doses.items()}
        return recipe_text(type(made)(self.of("bases", made.base_id), doses))


@dataclass(frozen=True)
class Past:
    """What cups were, when and by whom.

    Attributes
    ----------
    revisions : mapping of batch to Revision
    rows : mapping of table to DataFrame
        Every row that such a batch wrote, of readings and steps.
    """

    revisions: Mapping[int, ledger.Revision]
    rows: Tables


def past_of(tx: Transaction) -> Past:
    """Return all that readings and steps ever were, but for what was undone."""
    done = tx.table("revisions")
    active = tx.execute(done.select().where(done.c.active == 1, done.c.revision.is_not(None))).all()
    told = {
        row.batch: ledger.Revision(**{n: getattr(row, n) for n in ledger.Revision.__dataclass_fields__})
        for row in active
    }
    versions = {name: ledger.versions(tx, name) for name in _TRIALS}
    return Past(told, {name: rows[rows["batch"].isin(told)] for name, rows in versions.items()})


def bring(past: Past, tx: Transaction) -> None:
    """Write what merged cups were before as revisions that do not count."""
    batches = sorted({int(batch) for rows in past.rows.values() for batch in rows["batch"]})
    first, last = tx.state()
    kept = {batch: first + n for n, batch in enumerate(batches, start=1)}
    told = [
        {"batch": kept[batch], "revision": last + n, "at": one.at, "author": one.author, "active": 0}
        | {"action": ledger.MERGED, "about": f"{one.action} {one.about or ''}".strip()}
        for n, (batch, one) in enumerate(((batch, past.revisions[batch]) for batch in batches), start=1)
    ]
    if told:
        tx.execute(tx.table("revisions").insert(), told)
    for name, frame in past.rows.items():
        rows = frame.astype(object).where(frame.notna(), None)
        ledger.append(tx, name, rows.drop(columns=["row_key", "place"]), [kept[int(batch)] for batch in rows["batch"]])


def merged(ours: Tables, theirs: Tables, past: Past) -> tuple[dict[str, pd.DataFrame], pd.DataFrame, Past]:
    """Return the other's tables with ids as they are to be kept here, which of them were renamed, and the past of cups.

    Only what was written of cups that are new here is left of the past.

    Raises
    ------
    ConflictError
        When a trial of theirs cannot be told from one here.
    """
    import pandas as pd

    names = _Names()
    out: dict[str, pd.DataFrame] = {}
    for table, column in _FACTS.items():
        frame = _mapped(table, theirs[table], names)
        names.by_table[table] = _kept_as({table: ours[table]}, {table: frame}, column, (column, *_NOT_FACTS))
        out[table] = _renamed(frame, column, names.by_table[table])
        if "version_of" in frame:
            out[table]["version_of"] = [names.of(table, cell) for cell in out[table]["version_of"]]
    trials = {name: _mapped(name, theirs[name], names) for name in _TRIALS}
    names.by_table["trials"] = _kept_as({n: ours[n] for n in _TRIALS}, trials, "trial_id", ("trial_id",))
    for name, frame in trials.items():
        out[name] = _renamed(frame, "trial_id", names.by_table["trials"])
    out["steps"]["parent_trial_id"] = [names.of("trials", t) for t in out["steps"]["parent_trial_id"]]
    out["targets"]["reference_trial_id"] = [names.of("trials", t) for t in out["targets"]["reference_trial_id"]]
    for table, column in _GROUPS.items():
        frame = _mapped(table, theirs[table], names)
        names.by_table[table] = _kept_as({table: ours[table]}, {table: frame}, column, (column,))
        out[table] = _renamed(frame, column, names.by_table[table])
    for table in TABLES:
        if table not in out:
            out[table] = _mapped(table, theirs[table], names)
    there = {trial for name in _TRIALS for trial in ours[name]["trial_id"]}
    before = {}
    for name, frame in past.rows.items():
        here = _renamed(_mapped(name, frame, names), "trial_id", names.by_table["trials"])
        before[name] = here[~here["trial_id"].isin(there)]
    rows = [(t, a, b) for t, kept in names.by_table.items() for a, b in kept.items() if a != b]
    return out, pd.DataFrame(rows, columns=["table", "id", "kept_as"]), Past(past.revisions, before)


_NOT_FACTS = ("version_of", "reference_trial_id")


def _mapped(table: str, frame: pd.DataFrame, names: _Names) -> pd.DataFrame:
    """Call everything that rows refer to as it is called here."""
    out = frame.copy()
    calls: dict[str, Callable[[Any], Any]] = {
        "base_id": lambda cell: names.of("bases", cell),
        "flavouring_id": lambda cell: names.of("flavourings", cell),
        "target_id": lambda cell: names.of("targets", cell),
        "taster": lambda cell: names.of("tasters", cell),
    }
    for column, call in calls.items():
        if column in out and _FACTS.get(table) != column:
            out[column] = [call(cell) for cell in out[column]]
    if "item_id" in out:
        kinds = out["kind"] if "kind" in out else [None] * len(out)
        out["item_id"] = [names.item(cell, kind) for cell, kind in zip(out["item_id"], kinds, strict=True)]
    if table == "recipes":
        texts = (names.recipe(f"{b}|{d}") for b, d in zip(out["base_id"], out["doses"], strict=True))
        out["doses"] = [text.partition("|")[2] for text in texts]
    if table == "comparisons":
        for side in ("left", "right"):
            out[side] = [names.recipe(cell) for cell in out[side]]
    return out


def _kept_as(ours: Tables, theirs: Tables, column: str, aside: tuple[str, ...]) -> dict[str, str]:
    """Return what each id of theirs is called here: the same where all its rows say the same, or where it is new."""
    mine, other = _contents(ours, column, aside), _contents(theirs, column, aside)
    out: dict[str, str] = {}
    taken = {*mine, *other}
    for name, content in other.items():
        kept, number = name, 1
        while kept in mine and mine[kept] != content:
            number += 1
            kept = f"{name}~{number}"
        if kept != name and kept not in mine and kept in taken:
            raise ConflictError(
                f"{name!r} means something else here, and {kept!r} is taken there", "rename one of them"
            )
        out[name] = kept
    return out


def _contents(tables: Tables, column: str, aside: tuple[str, ...]) -> dict[str, frozenset[tuple[Any, ...]]]:
    """Return the rows of each id, without the id."""
    found: dict[str, list[tuple[Any, ...]]] = {}
    for table, frame in tables.items():
        rest = [name for name in frame.columns if name not in aside]
        columns = (frame[name].tolist() for name in rest)
        for name, *cells in zip(frame[column].tolist(), *columns, strict=True):
            found.setdefault(name, []).append((table, *(None if is_missing(cell) else cell for cell in cells)))
    return {name: frozenset(rows) for name, rows in found.items()}


def _renamed(frame: pd.DataFrame, column: str, kept: Mapping[str, str]) -> pd.DataFrame:
    return frame.assign(**{column: [kept.get(cell, cell) for cell in frame[column]]})
