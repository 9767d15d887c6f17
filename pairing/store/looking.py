"""What a bench is asked without reading all of it: cups by name, the latest rows, who and what is in use."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError
from pairing.model.columns import TABLES, table_named
from pairing.store import ledger, past, trials

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.trials import DoseExtremes, Listed

__all__ = ["Looking"]


class Looking:
    """Part of `pairing.bench.Bench`, which brings its transactions: each answer costs about what it says."""

    _ask: Callable[..., Any]

    def count(self) -> dict[str, int]:
        """Return how many rows each table has."""
        found: dict[str, int] = self._ask(lambda tx: {name: ledger.count(tx, name) for name in TABLES})
        return found

    def trials(self, beginning: str = "") -> list[str]:
        """Return the ids of the trials whose id begins so, in the order in which they first came."""
        found: list[str] = self._ask(trials.trial_ids, beginning)
        return found

    def last_trial(self) -> str | None:
        """Return the id of the trial that came last, None where there is none."""
        found: str | None = self._ask(trials.last_trial)
        return found

    def trial(self, trial_id: str) -> dict[str, pd.DataFrame]:
        """Return the ``readings`` and ``steps`` of one trial as they stand; both empty where it is not there."""
        found: dict[str, pd.DataFrame] = self._ask(trials.rows_of_trial, trial_id)
        return found

    def latest(self, table: str, most: int, **where: Any) -> pd.DataFrame:
        """Return the last rows of a table as it stands, in their order.

        Parameters
        ----------
        most : int
            So many rows at most.
        **where
            Columns, and what must stand in them: ``latest("readings", 200, taster="ana")``.
        """
        spec = table_named(table)
        for name in where:
            if name not in spec.names:
                raise TableError(f"{table} has no column {name!r}", f"it has: {', '.join(spec.names)}")
        found: pd.DataFrame = self._ask(ledger.last_rows, spec.name, most, where)
        return found

    def dose_extremes(self) -> list[DoseExtremes]:
        """Return between which doses every flavouring was tasted."""
        found: list[DoseExtremes] = self._ask(trials.dose_extremes)
        return found

    def listed(self, most: int, **where: Any) -> Listed:
        """Count the cups that have certain things in columns of their readings; the ids of the last so many of them."""
        found: Listed = self._ask(trials.listed, most, where)
        return found

    def readings_of(self, trial_ids: Sequence[str]) -> pd.DataFrame:
        """Return the readings of some trials as they stand, in their order."""
        found: pd.DataFrame = self._ask(trials.readings_of, trial_ids)
        return found

    def readings_with(self, flavouring_ids: Sequence[str]) -> pd.DataFrame:
        """Return the readings of every trial that held one of some flavourings, in their order."""
        found: pd.DataFrame = self._ask(trials.readings_with, flavouring_ids)
        return found

    def holds(self, table: str, column: str) -> bool:
        """Tell whether anything stands in a column of a table as it stands."""
        spec = table_named(table)
        found: bool = self._ask(ledger.holds, spec.name, spec.by_name[column].name)
        return found

    def used(self, table: str, column: str) -> list[str]:
        """Return the different texts in a column of a table as it stands, sorted."""
        spec = table_named(table)
        if column not in spec.names or spec.by_name[column].kind in ("number", "integer"):
            raise TableError(f"{table} has no column {column!r} of text", f"it has: {', '.join(spec.names)}")
        found: list[str] = self._ask(ledger.used, spec.name, column)
        return found

    def history(self, trial_id: str | None = None, most: int | None = None) -> pd.DataFrame:
        """Return every revision of a trial's rows, first to last; without a trial, of the bench.

        Parameters
        ----------
        most : int, optional
            Of the bench only the last so many.

        Raises
        ------
        UnknownIdError
            When no trial has that id.
        """
        asked = (past.of_bench, most) if trial_id is None else (past.of_trial, trial_id)
        found: pd.DataFrame = self._ask(*asked)
        return found
