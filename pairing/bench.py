"""The bench: everything that is known and logged, in one folder or on one server."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, TypeVar, overload

from pairing.asking import Asking
from pairing.errors import TableError
from pairing.model.columns import TABLES, table_named
from pairing.model.recipe import Recipe
from pairing.model.rows import as_tables
from pairing.pooling.sharing import Sharing
from pairing.safety.flagged import warn_of
from pairing.safety.session import tallies
from pairing.safety.today import midnight
from pairing.store import archive, calibrations, cups, kept_cup, ledger, loading, past, places, restore, state, undoing
from pairing.store.food_use import declare
from pairing.store.keeping import Keeping
from pairing.store.kept_recipes import keep_recipe
from pairing.store.known import Known
from pairing.store.looking import Looking
from pairing.store.plugged import Plugged
from pairing.store.rights import OWNER
from pairing.store.stocked import shelf_of
from pairing.store.stocking import Stocking

if TYPE_CHECKING:
    import pandas as pd

    from pairing.host import Host
    from pairing.learned import Learned
    from pairing.learned.watch import Watch
    from pairing.model.base import Base
    from pairing.model.cup import Cup
    from pairing.model.flavouring import Flavouring
    from pairing.model.shelf import Shelf
    from pairing.quantities.calibration import Calibration
    from pairing.safety.flagged import Flag
    from pairing.safety.swallowed import Tally
    from pairing.store.database import Database, Transaction
    from pairing.store.ledger import Revision
    from pairing.store.load_report import LoadReport

__all__ = ["Bench"]

P = ParamSpec("P")
T = TypeVar("T")


class Bench(Keeping, Looking, Stocking, Asking, Sharing):
    """A bench, kept in a folder (an SQLite file) or on a database server. Make one with `create` or `open`.

    Nothing that was logged is lost or changed silently: corrections and undos are revisions of their own. Several
    programs may use one bench at the same time.

    Examples
    --------
    >>> import pandas as pd, tempfile
    >>> bench = Bench.create(tempfile.mkdtemp() + "/kitchen")
    >>> bench.load(bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"]})).accepted
    {'bases': 1}
    >>> list(bench.shelf().bases)
    ['oat']
    """

    def __init__(self, place: str, author: str, db: Database) -> None:
        self.place = place
        self.author = author
        self._db = db
        self._known = Known()
        self.plugged = Plugged(db.folder)

    def __repr__(self) -> str:
        return f"<Bench {self._db.name}>"

    @classmethod
    def create(cls, place: str | Path, *, author: str = "me", **settings: Any) -> Bench:
        """Make a new bench.

        Parameters
        ----------
        place : path or URL
            A folder, made when it is not there, or ``postgresql+psycopg://…``.
        author : str
            Who writes; kept with every revision.
        **settings
            ``currency``, ``jurisdiction`` (EU or US), ``scale_g`` (smallest step of the scale, g), ``amounts`` (said
            in drops, g or ml first), ``volumes`` (metric or US).

        Raises
        ------
        StoreError
            When there is a bench already, or the place cannot be written.
        """
        kept = state.as_text({**state.DEFAULT_SETTINGS, **state.check_settings(settings)})
        db = places.prepare(place)
        db.create(kept)
        return cls(str(place), author, db)

    @classmethod
    def open(cls, place: str | Path, *, author: str = "me", role: str = OWNER) -> Bench:
        """Open a bench that is there.

        Who writes is an owner unless another role is given: a guest, taster or keeper, see `pairing.store.rights`.

        Raises
        ------
        StoreError
            When there is none, or no such role, or a newer version of this program has written it.
        """
        return cls(str(place), author, places.find(place, role))

    @property
    def revision(self) -> int:
        """Number of the last revision of the log; it rises with every change of the tables."""
        return self._ask(ledger.log_revision)

    @property
    def mark(self) -> str:
        """What tells this state of the log from any other, of this bench or another: its last revision and its time."""
        return self._ask(ledger.mark)

    @property
    def settings(self) -> Mapping[str, Any]:
        """Currency, jurisdiction and step of the scale."""
        return self._ask(state.read_settings)

    @property
    def plugin_folder(self) -> Path | None:
        """Where this bench's own plugin files lie; None on a server."""
        return None if self._db.folder is None else self._db.folder / "plugins"

    @property
    def read_only(self) -> bool:
        """Whether this bench can be asked and exported only: its file or its folder may not be written."""
        return self._db.read_only

    @property
    def host(self) -> Host:
        """The plugins of this bench, loaded when first asked for; all of them unless others were chosen."""
        return self.plugged.host

    def choose_plugins(self, only: str | Iterable[str] | None = None, strict: bool = False) -> Bench:
        """Load only these plugins (``"a,b"``; empty: none), or raise at their first fault; return the bench."""
        self.plugged.choose(only, strict)
        return self

    @overload
    def tables(self) -> dict[str, pd.DataFrame]: ...
    @overload
    def tables(self, name: str) -> pd.DataFrame: ...
    @overload
    def tables(self, name: list[str]) -> dict[str, pd.DataFrame]: ...
    def tables(self, name: str | list[str] | None = None) -> dict[str, pd.DataFrame] | pd.DataFrame:
        """Return one table as it stands now, or several, or all of them, by name.

        Returns
        -------
        pandas.DataFrame or dict of str to pandas.DataFrame
            All columns: ids and text as objects with None, numbers as float64 with NaN.
        """
        names = list(TABLES) if name is None else [name] if isinstance(name, str) else name
        with self._db.reading() as tx:
            found = {n: ledger.current(tx, n, TABLES[n].names) for n in (table_named(n).name for n in names)}
        return found[name] if isinstance(name, str) else found

    def shelf(self) -> Shelf:
        """Return bases, flavourings and tasters; drops as weighed here, and what their lots hold and cost."""
        return self._ask(shelf_of)

    def targets(self) -> dict[str, str]:
        """Return the names of the targets by id."""
        rows = self._ask(ledger.columns_of, "targets")
        return dict(zip(rows["target_id"], rows["name"], strict=True))

    def cup(self, trial_id: str) -> Cup:
        """Return a logged cup as it stood at its end, to go on with; log it with ``on_conflict="revise"``.

        Raises
        ------
        UnknownIdError, CupError
            When no trial has that id, and when only its readings are kept.
        """
        return self._ask(kept_cup.cup_of, trial_id, self.shelf())

    def cups_since(self, since: str | None = None) -> list[Cup]:
        """Return the cups that were logged since a time (ISO 8601, UTC; last midnight by this machine's clock)."""
        return self._ask(kept_cup.cups_since, since or midnight())

    def swallowed(self, since: str | None = None) -> dict[str, Tally]:
        """Return what every taster swallowed of the cups logged since a time, as of `cups_since`."""
        drunk = self.cups_since(since)
        return tallies(drunk, self.shelf()) if drunk else {}

    def flags(self, trial_id: str | None = None) -> tuple[Flag, ...]:
        """Return which cups, or whether one, were drunk although a caution stops them; see `pairing.safety.flagged`."""
        from pairing.learned.watch import flags_in

        rows = self.tables("readings") if trial_id is None else self._ask(cups.readings_of, trial_id)
        return flags_in(rows, self.shelf(), self.host.rules)

    def load(
        self,
        source: str | Path | None = None,
        *,
        on_conflict: str = "refuse",
        liking_scale: int = 9,
        food_use: str | None = None,
        **tables: Any,
    ) -> LoadReport:
        """Load tables: good rows go in, each refused row comes back in full.

        Parameters
        ----------
        source : path, optional
            A folder or workbook with all tables, as `export` writes it.
        on_conflict : {"refuse", "revise"}
            What happens to a row whose key is there with other content.
        liking_scale : int
            Highest score of the liking scale used, 2 to 10; scores are rescaled linearly to 1–9. A heading tells it,
            too: *Liking (1-10)*.
        food_use : {"yes", "no", "unknown"}, optional
            What an empty ``food_use`` stands for: ``yes`` after reading the labels. Only *yes* is suggested.
        **tables : path or DataFrame
            ``bases, flavourings, readings, steps, tasters, targets, comparisons, calibrations, lots, weighings,
            recipes, photos``.

        Returns
        -------
        LoadReport
            ``accepted``, ``skipped``, ``revised`` (by table), ``refused`` (DataFrame), ``notes``.
        """
        theirs = self.plugged.read(source)
        given = {**(theirs or (restore.tables_in(source) if source is not None else {})), **tables}
        if not any(table is not None for table in given.values()):
            raise TableError("no table is given to load", f"name one of: {', '.join(TABLES)}")
        if (brought := self.plugged.read(given.get("readings"))) is not None:
            given |= brought
        past = restore.past_in(source) if source is not None and theirs is None else {}
        options: dict[str, Any] = {"on_conflict": on_conflict, "liking_scale": liking_scale, "past": past}
        report = loading.load(self._db, self.author, given, food_use=food_use, watch=self._watch(), **options)
        self.plugged.tell("load", self._ask, revision=report.revision)
        return report

    def declare_food_use(self, food_use: str = "yes", flavouring_ids: Iterable[str] | None = None) -> tuple[str, ...]:
        """State whether flavourings are food, those named or all that say nothing; return which changed."""
        return self._write(declare, food_use, flavouring_ids)

    @overload
    def keep(self, /, *items: Base | Flavouring) -> LoadReport: ...
    @overload
    def keep(self, recipe: Recipe, /, **said: Any) -> str: ...
    def keep(self, /, *items: Any, **said: Any) -> LoadReport | str:
        """Load bases and flavourings; or keep one recipe by ``name=, status=, note=`` and return ``name@version``."""
        if said or any(isinstance(item, Recipe) for item in items):
            return self._write(keep_recipe, *items, **said)
        tables: dict[str, Any] = as_tables(items)
        return self.load(**tables)

    def log(
        self,
        cup: Cup,
        *,
        ended: str | None = None,
        liking: float | None = None,
        taster: str | None = None,
        off_notes: str | None = None,
        likeness: float | None = None,
        target_id: str | None = None,
        note: str | None = None,
        chosen_by: str | None = None,
        trial_id: str | None = None,
        overridden: Sequence[str] = (),
        draft_id: str | None = None,
        on_conflict: str = "refuse",
    ) -> str:
        """Store a trial, steps and readings, before returning its id. Storing the same again changes nothing.

        Parameters
        ----------
        cup : Cup
        ended : {"right", "too strong", "not reached", "spoiled", "unfinished"}, optional
        liking, likeness, target_id, off_notes, note
            Of the cup as it is now: they go with the taster's last reading of it, or make one.
        taster : str, optional
            Who tasted, where the readings do not say.
        chosen_by : {"own", "suggested", "random"}, optional
        trial_id, draft_id : str, optional
            The cup's own id when not given; a draft that is done with this.
        overridden : sequence of str, optional
            Flavourings that went past 3 × the label on purpose: kept in the note of the last reading.
        on_conflict : {"refuse", "revise"}
            What happens when this trial is there with other content.
        """
        said = {
            "ended": ended, "liking": liking, "taster": taster, "off_notes": off_notes, "likeness": likeness,
            "target_id": target_id, "note": note, "chosen_by": chosen_by, "trial_id": trial_id,
            "overridden": overridden,
        }  # fmt: skip

        rules = self.host.rules  # strict about plugins: raise before anything is stored, not after
        more: dict[str, Any] = {"on_conflict": on_conflict, "draft_id": draft_id}
        trial = cups.log_cup(self._db, self.author, cup, said, self._known, **more)
        warn_of(cup, self._known.shelf, taster, rules, trial)
        self.plugged.tell("log", self._ask, trial_id=trial)
        return trial

    def undo(self, revision: int | None = None) -> Revision:
        """Take back the last change (or one named) and return it; what it wrote stays in the history."""
        _ = self.host  # as in `log`
        undone = undoing.undo(self._db, self.author, revision)
        self.plugged.tell("undo", self._ask, revision=undone.revision)
        return undone

    def correct(
        self,
        table: str,
        key: str | Mapping[str, Any] | tuple[Any, ...],
        changes: Mapping[str, Any],
        expected_revision: int | None = None,
    ) -> int:
        """Correct cells of the rows with this key, and return the new revision.

        Parameters
        ----------
        table : str
        key : str, tuple or mapping
            ``"oat"``; for readings any of ``{"trial_id": …, "taster": …, "reading": …, "flavouring_id": …}``.
        changes : mapping
            Column to new value; None empties a cell.
        expected_revision : int, optional
            The bench's revision that you looked at; somebody else's later change of these rows is a conflict.
        """
        made: int = self._write(past.correct, table_named(table).name, key, changes, expected_revision, self._watch())
        self.plugged.tell("correct", self._ask, revision=made)
        return made

    def calibrate(self, flavouring_id: str, drops: int, grams: float, lot: str | None = None) -> Calibration:
        """Store that so many drops weigh so much, and return mg per drop from all weighings of that lot."""
        return self._write(calibrations.store, flavouring_id, drops, grams, lot)

    def configure(self, **settings: Any) -> None:
        """Change settings."""
        self._write(state.write_settings, settings)

    def export(self, target: str | Path, tables: Iterable[str] | None = None, *, everything: bool = False) -> Path:
        """Write all tables, with revision, time and author of each row, and what they were before.

        Parameters
        ----------
        target : path
            A folder (one CSV per table) or a file that ends in ``.xlsx``. Loading it into a new bench and exporting
            that gives the same bytes. Or a file of a kind that a plugin writes: the tables as they stand.
        tables : iterable of str, optional
            Only these.
        everything : bool
            Settings, cups and blind checks in hand, and an adopted prior, too: they come back in a bench that is empty.
        """
        names = [table_named(n).name for n in tables] if tables is not None else list(TABLES)
        if self.plugged.write(Path(target), lambda: self.tables(names)):
            return Path(target)
        return self._ask(archive.export, Path(target), names, everything=everything)

    def learn(self, random_state: int | None = None) -> Learned:
        """Learn from everything logged, with the plugins' rules; every ``random_state`` gives the same model."""
        from pairing.learned.stored import learn_bench

        return learn_bench(self)

    def _watch(self) -> Watch:
        """Return who looks at rows that come in, with the plugins' rules; strict about plugins, as `log` is."""
        from pairing.learned.watch import Watch

        return Watch(self.host.rules, self.host.attributes)

    def _ask(self, function: Callable[Concatenate[Transaction, P], T], *args: P.args, **options: P.kwargs) -> T:
        with self._db.reading(self.author) as tx:
            return function(tx, *args, **options)

    def _write(self, function: Callable[Concatenate[Transaction, P], T], *args: P.args, **options: P.kwargs) -> T:
        return self._db.write(self.author, lambda tx: function(tx, *args, **options))
