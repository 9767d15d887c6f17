"""What the Log shows: the filtered table, the form for a correction, undo and export."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.model.columns import STRENGTH_WORDS, TABLES
from pairing.model.fields import is_missing
from pairing_dashboard import parts, row_seen, session
from pairing_dashboard.row_seen import RowSeen
from pairing_dashboard.wording import count, heading, number

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.model.shelf import Shelf

__all__ = ["correct", "cups", "export"]

MOST_ROWS = 2000
"""So many rows are listed, the latest first; a filter brings up older ones."""
CORRECTED = ("dose_g_per_kg", "strength", "liking", "off_notes", "note")
OF_A_FLAVOURING = ("dose_g_per_kg", "strength")


def cups(bench: Bench) -> None:
    """List the readings that pass the filter."""
    rows = session.table(bench, "readings")
    st.write(f"**{count(rows['trial_id'].nunique(), 'cup')}**, {count(len(rows), 'row')} in the log.")
    first, second, third = st.columns(3)
    with first:
        base = st.selectbox("Base", sorted(rows["base_id"].unique()), index=None, placeholder="all")
    with second:
        inside = sorted(rows["flavouring_id"].dropna().unique())
        flavouring = st.selectbox("Flavouring", inside, index=None, placeholder="all")
    with third:
        taster = st.selectbox("Taster", sorted(rows["taster"].unique()), index=None, placeholder="all")
    for column, value in (("base_id", base), ("flavouring_id", flavouring), ("taster", taster)):
        if value is not None:
            rows = rows[rows[column] == value]
    st.dataframe(_listed(rows, session.shelf(bench)), hide_index=True, key="log", placeholder="—")
    _undo(bench)


def _listed(rows: pd.DataFrame, shelf: Shelf) -> list[dict[str, Any]]:
    """Put the rows of each reading on one line, the latest first."""
    names = {**{i: f.name for i, f in shelf.flavourings.items()}, **{i: b.name for i, b in shelf.bases.items()}}
    lines: dict[tuple[Any, ...], dict[str, Any]] = {}
    for row in parts.rows(rows.iloc[-MOST_ROWS:]):
        line = lines.setdefault(
            (row.trial_id, row.taster, row.reading),
            {
                "When": str(row.tasted_at or "")[:16].replace("T", " "),
                "Base": names.get(row.base_id, row.base_id),
                "What": [],
                "Taster": row.taster,
                "Strength": [],
                "Liking, 1–9": row.liking,
                "Ended": row.ended,
                "Off-notes": row.off_notes,
                "Note": row.note,
                "Cup": row.trial_id,
            },
        )
        if not is_missing(row.flavouring_id):
            line["What"].append(f"{names.get(row.flavouring_id, row.flavouring_id)} {_dose(row)}")
        if not is_missing(row.strength):
            line["Strength"].append(STRENGTH_WORDS[int(row.strength)])
    joined = (
        {**line, "What": " + ".join(line["What"]), "Strength": ", ".join(line["Strength"])} for line in lines.values()
    )
    return list(joined)[::-1]


def _dose(row: Any) -> str:
    return str(row.amount) if is_missing(row.dose_g_per_kg) else f"{number(row.dose_g_per_kg)} g/kg"


def _undo(bench: Bench) -> None:
    history = bench.history()
    if history.empty:
        return
    with st.expander("What was changed, and by whom"):
        recent = history.iloc[::-1].head(20)
        columns = ("revised_at", "author", "action", "about")
        parts.table(parts.rows(recent[list(columns)].fillna("")), columns, "Last changes, newest first")
    if st.button("Undo the last change", icon=":material/undo:") and (undone := parts.attempt(bench.undo)):
        row_seen.forget("correct")
        parts.remember(f"Taken back: {undone.action} {undone.about or ''}. It stays in the history.")
        st.rerun(scope="app")


def correct(bench: Bench) -> None:
    """Correct one row of the log as a new revision."""
    rows = session.table(bench, "readings")
    trials = rows["trial_id"].unique()[::-1]
    trial = st.selectbox("Cup", trials, format_func=lambda t: _cup_name(rows, t), key="correct-cup")
    mine = rows[rows["trial_id"] == trial].reset_index(drop=True)
    if mine.empty:
        return
    names = [f"{r.taster}, reading {r.reading:g}, {r.flavouring_id or 'plain'}" for r in parts.rows(mine)]
    at = st.selectbox("Row", range(len(mine)), format_func=names.__getitem__, key=f"correct-row-{trial}")
    row = mine.iloc[at].to_dict()
    columns = TABLES["readings"].by_name
    seen = row_seen.seen("correct", (trial, at), bench.revision, row)
    with st.form(f"correct-{trial}-{at}"):
        answers = {}
        for name in CORRECTED:
            words = ", ".join(f"{i} {w}" for i, w in enumerate(STRENGTH_WORDS)) if name == "strength" else None
            about = words or columns[name].about or None
            shown, key = seen.shown(name), seen.key(name)
            answers[name] = st.text_input(heading(name), shown, help=about, key=key).strip()
        if not st.form_submit_button("Save the correction", type="primary"):
            return
    parts.attempt(_save, bench, answers, seen)
    st.rerun()


def _save(bench: Bench, answers: dict[str, str], seen: RowSeen) -> None:
    """Write what changed; what belongs to the whole reading goes to all rows of it."""
    row = seen.row

    def write(changed: dict[str, str]) -> None:
        reading = {name: row[name] for name in ("trial_id", "taster", "reading")}
        whole = {name: text or None for name, text in changed.items() if name not in OF_A_FLAVOURING}
        own = {name: text or None for name, text in changed.items() if name in OF_A_FLAVOURING}
        revision = seen.revision
        if whole:
            revision = bench.correct("readings", reading, whole, expected_revision=revision)
        if own:
            mine = {**reading, "flavouring_id": row["flavouring_id"]}
            bench.correct("readings", mine, own, expected_revision=revision)

    row_seen.save(seen, answers, write)
    parts.remember("The correction is saved as a new revision.")


def _cup_name(rows: pd.DataFrame, trial_id: str) -> str:
    mine = rows[rows["trial_id"] == trial_id]
    inside = " + ".join(mine["flavouring_id"].dropna().unique()) or "plain"
    return f"{mine['base_id'].iloc[0]}: {inside} ({trial_id[:8]})"


def export(bench: Bench) -> None:
    """Hand the whole bench over as one spreadsheet."""
    st.write("All tables with their revisions; loading the file into another bench gives the same bench.")
    if st.button("Make the spreadsheet"):
        with st.spinner("Writing …"):
            st.session_state["export"] = parts.attempt(_spreadsheet, bench)
    if made := st.session_state.get("export"):
        st.download_button("Download the spreadsheet", made, "bench.xlsx", on_click="ignore", type="primary")


def _spreadsheet(bench: Bench) -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bench.xlsx"
        bench.export(path)
        return path.read_bytes()
