"""Importing tables: choose a file, see what would be taken and what refused, then take it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError, TableError
from pairing.model.columns import TABLES
from pairing.store.notes import Note, in_short
from pairing.store.placing import table_of
from pairing_dashboard import parts, session
from pairing_dashboard.wording import count, md

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.store.exchange import Cleaned

__all__ = ["show"]

NOTHING: Mapping[str, dict[str, str]] = {"bases": {}, "flavourings": {}, "targets": {}}

KINDS = tuple(TABLES)


def show(bench: Bench | None, make: Callable[[], Bench] | None = None) -> None:
    """Draw the import: file, table, preview, and the button that takes it.

    Parameters
    ----------
    bench : Bench or None
    make : callable, optional
        Makes the bench, once there is something to put into it.
    """
    file = st.file_uploader("File", type=["csv", "xlsx", "parquet"], key="file")
    if file is None:
        st.html('<p class="quiet">CSV, XLSX or Parquet, up to 200 MB. Nothing is written unseen.</p>')
        return
    from pairing.store.exchange import clean

    try:
        with st.spinner("Reading the file …"):
            frame = _read(file)
        place, unclear = _placed(file.name, list(frame.columns))
        about = "Told by the column names, and by the file's where those fit several."
        table = st.selectbox("Table", KINDS, place, help=about, key=f"table-{file.file_id}")
        if table is None:
            st.warning(md(f"{unclear}. Choose the table."))
            return
        with st.spinner("Reading the file …"):
            preview = clean(table, frame, known=_known(bench) if bench else NOTHING)
    except PairingError as error:
        parts.problem(error)
        return
    accepted, refused = len(preview.table), len(preview.refused)
    twice = f", {count(n, 'row')} there twice" if (n := len(preview.skipped)) else ""
    st.write(
        f"**{count(accepted, 'row')}** can be taken, **{refused:,}** refused{twice}. Rows already here are skipped."
    )
    _assumed(preview.notes)
    _refused(preview, table)
    revise = st.toggle("Rows that are already here with other content: take them as corrections", key="revise")
    taking = f"Take {count(accepted, 'row')}"
    if st.button(taking, type="primary", disabled=not accepted):
        on = bench or (make() if make else None)
        if on is not None and parts.attempt(_take, on, table, frame, revise):
            st.rerun()
    parts.said()


def _placed(file: str, headings: list[Any]) -> tuple[int | None, str]:
    """Return the place among `KINDS` of the table that a file is, or None and why it cannot be told."""
    try:
        return KINDS.index(table_of(file, headings)), ""
    except TableError as error:
        return None, error.message


def _known(bench: Bench) -> dict[str, dict[str, str]]:
    """Names, by id, that the rows of a file may refer to."""
    shelf = session.shelf(bench)
    targets = session.table(bench, "targets")
    return {
        "bases": {one: base.name for one, base in shelf.bases.items()},
        "flavourings": {one: flavouring.name for one, flavouring in shelf.flavourings.items()},
        "targets": dict(zip(targets["target_id"], targets["name"], strict=True)),
    }


def _read(file: Any) -> pd.DataFrame:
    from pairing.store.exchange import read

    with TemporaryDirectory() as folder:
        path = Path(folder) / f"upload{Path(file.name).suffix}"
        path.write_bytes(file.getvalue())
        return read(path)


def _assumed(notes: Sequence[Note]) -> None:
    """List what was assumed, converted or not used in reading the file."""
    if notes:
        st.markdown("Read like this:\n" + "\n".join(f"- {md(note)}" for note in in_short(notes)))


def _refused(preview: Cleaned, table: str) -> None:
    refused = preview.refused
    if refused.empty:
        return
    from pairing.store.again import to_load_again

    shown = refused.head(50)
    columns = [c for c in ("row", "column", "value", "reason", "remedy") if c in shown]
    parts.table(
        parts.rows(shown[columns]),
        columns,
        "Refused rows" + ("" if len(refused) <= 50 else ", the first 50"),
    )
    again = to_load_again(refused, {table: preview.decimal_comma}).to_csv(index=False)
    st.download_button("All refused rows as CSV", again, f"{table}-refused.csv", "text/csv", on_click="ignore")


def _take(bench: Bench, table: str, frame: pd.DataFrame, revise: bool) -> bool:
    given: dict[str, Any] = {table: frame}
    report = bench.load(**given, on_conflict="revise" if revise else "refuse")
    numbers = {
        "corrected": report.revised.get(table, 0),
        "already known": report.skipped.get(table, 0),
        "refused": len(report.refused),
    }
    said = [f"Taken: {count(report.accepted.get(table, 0), 'row')}"]
    said += [f"{word}: {n:,}" for word, n in numbers.items() if n]
    parts.remember("; ".join(said) + ".", in_short(report.notes))
    return True
