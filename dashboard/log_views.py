"""What the Log shows: a line per cup, opened to its ladder and the form for a correction; undo and export."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import CupError
from pairing.model.columns import LIKING_WORDS, STRENGTH_WORDS, TABLES
from pairing.model.fields import is_missing
from pairing.model.weighing import added_by
from pairing_dashboard import charts, log_amounts, log_cup, parts, row_seen, session
from pairing_dashboard.log_lines import LoggedCup, line, local
from pairing_dashboard.row_seen import RowSeen
from pairing_dashboard.wording import count, heading, joined, md, number

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf

__all__ = ["cups", "export"]

PAGE = 20
"""So many cups are listed; the button below brings up older ones."""
PILLS: dict[str, dict[int, str]] = {
    "strength": dict(enumerate(STRENGTH_WORDS)),
    "liking": {i + 1: f"{i + 1} {word}" for i, word in enumerate(LIKING_WORDS)},
}
"""What is corrected by a tap, as it was said at the bench."""
TYPED = ("dose_g_per_kg", "off_notes", "note")
"""What is corrected by typing."""
OF_A_FLAVOURING = ("dose_g_per_kg", "strength")
RECENT = 20
"""So many changes are told."""
MOST_MARKS = 500
"""So many cups are drawn at once, the latest."""
NBSP = "\u00a0"
OPENED = "trial"
"""The cup that is open, in the address."""


def cups(bench: Bench) -> None:
    """List the cups that pass the filter, one line each; a tap opens one."""
    shelf, n = session.shelf(bench), st.session_state.setdefault("log-page", PAGE)
    whole = bench.listed(0)
    st.write(f"**{count(whole.cups, 'cup')}**, {count(whole.rows, 'row')} in the log.")
    where = _filter(bench, shelf)
    found, opened = bench.listed(n, **where), st.query_params.get(OPENED, "")
    # one that is open and not among them stands first
    of_page = dict(list(bench.readings_of([opened, *found.trials]).groupby("trial_id", sort=False)))
    if opened and opened not in of_page:
        st.info("That cup is not in the log.")
    with st.container(key="lines", gap=None):
        for trial in dict.fromkeys([*([opened] if opened not in found.trials else []), *found.trials]):
            if trial in of_page:
                _line(bench, line(trial, of_page[trial], shelf), of_page[trial], opened == trial)
    if found.cups > n and st.button(f"{count(found.cups - n, 'older cup')}: show more"):
        st.session_state["log-page"] = n + PAGE
        st.rerun(scope="app")
    _season(bench, where, shelf)
    _undo(bench)


def _season(bench: Bench, where: dict[str, str], shelf: Shelf) -> None:
    """Draw liking over time, of the cups that are listed."""
    with st.expander("Liking over the season", icon=":material/show_chart:", key="season"):
        if not st.toggle("Draw it", key="season-drawn"):
            return
        rows = bench.readings_of(bench.listed(MOST_MARKS, **where).trials)
        judged = rows[rows["liking"].notna() & rows["tasted_at"].notna()].drop_duplicates(
            ["trial_id", "taster", "reading"]
        )
        cups = judged.groupby("trial_id", sort=False).agg({"liking": "mean", "tasted_at": "last", "base_id": "last"})
        cups = cups.sort_values("tasted_at")
        means = cups["liking"].rolling(10, min_periods=1).mean()
        names = {i: b.name for i, b in shelf.bases.items()}
        charts.season(
            [
                {
                    "at": str(r.tasted_at),
                    "liking": float(r.liking),
                    "mean": float(mean),
                    "what": names.get(r.base_id, r.base_id),
                }
                for r, mean in zip(parts.rows(cups), means, strict=True)
            ]
        )


def _filter(bench: Bench, shelf: Shelf) -> dict[str, str]:
    """Ask what to list; return columns and what has to stand in them."""
    bases = {i: b.name for i, b in shelf.bases.items()}
    inside = {i: f.name for i, f in shelf.flavourings.items()}
    asked: dict[str, tuple[str, dict[str, str]]] = {
        "base_id": ("Base", bases),
        "flavouring_id": ("Flavouring", inside),
        "taster": ("Taster", {}),
    }
    where = {name: str(value) for name in asked if (value := st.session_state.get(f"log-{name}"))}
    said = joined({**bases, **inside}.get(i, i) for i in where.values())
    with st.popover(f"Only {md(said)}" if said else "All cups", icon=":material/filter_list:", key="log-filter"):
        for name, (label, names) in asked.items():
            called = {i: names.get(i, i) for i in bench.used("readings", name)}
            known = sorted(called, key=called.__getitem__)
            st.selectbox(label, known, None, format_func=called.__getitem__, placeholder="all", key=f"log-{name}")
    return where


def _line(bench: Bench, it: LoggedCup, mine: pd.DataFrame, is_open: bool) -> None:
    liking = "–" if it.liking is None else number(it.liking, 2)
    told = f"**{liking}** {md(it.what)} in {md(it.base)} · {md(it.when).replace(' ', NBSP)} · {md(it.who)}"
    if it.ended not in ("right", ""):
        told += f" · {md(it.ended)}"

    def turn() -> None:
        if is_open:
            st.query_params.pop(OPENED, None)
        else:
            st.query_params[OPENED] = it.trial_id

    icon = ":material/expand_less:" if is_open else ":material/expand_more:"
    st.button(told, key=f"line-{it.trial_id}", icon=icon, type="tertiary", width="stretch", on_click=turn)
    if is_open:
        with st.container(border=True, key="open"):
            made = _made(bench, it.trial_id)
            log_cup.show(bench, it, mine, made)
            correct(bench, it.trial_id, mine.reset_index(drop=True), made)


def _made(bench: Bench, trial: str) -> Cup | None:
    """Make a cup again from its steps; None where only its readings are kept."""
    try:
        return bench.cup(trial)
    except CupError:
        return None


def _undo(bench: Bench) -> None:
    history = bench.history(most=RECENT)
    if history.empty:
        return
    with st.expander("What was changed, and by whom", icon=":material/history:"):
        recent = history.iloc[::-1]
        told = (
            (local(r.revised_at), r.author, ACTIONS.get(r.action, r.action), _about(bench, r.about))
            for r in parts.rows(recent)
        )
        parts.table(told, ("When", "Who", "What", "About"), "Last changes, newest first")
    if st.button("Undo the last change", icon=":material/undo:") and (undone := parts.attempt(bench.undo)):
        row_seen.forget("correct")
        said = ACTIONS.get(undone.action, undone.action)
        parts.remember(f"Taken back: {said} {_about(bench, undone.about)}. It stays in the history.")
        st.rerun(scope="app")


ACTIONS = {"load": "took in", "log": "logged", "correct": "corrected", "undo": "took back", "keep": "kept"}
"""What was done, in words."""
TRIAL = "trial "


def _about(bench: Bench, about: str | None) -> str:
    """Name what a change was about: a cup by what is in it."""
    if not about or not about.startswith(TRIAL):
        return about or ""
    trial = about.removeprefix(TRIAL)
    mine = bench.trial(trial)["readings"]
    if mine.empty:
        return "a cup that is not in the log any more"
    it = line(trial, mine, session.shelf(bench))
    return f"{it.what} in {it.base}"


def correct(bench: Bench, trial: str, mine: pd.DataFrame, made: Cup | None) -> None:
    """Correct what went into a cup, or one row of what was said of it, as a new revision."""
    shelf, columns = session.shelf(bench), TABLES["readings"].by_name
    if not st.toggle("Correct it", key=f"correct-{trial}"):  # nothing of the form is drawn before it is asked for
        return
    by_amount = made is not None and None not in added_by(made)
    if made is not None and by_amount:
        log_amounts.correct(bench, made, mine)
        st.write("**What was said**")
    names = [
        f"{r.taster}, sip {r.reading:g}, "
        f"{shelf.flavourings[r.flavouring_id].name if r.flavouring_id in shelf.flavourings else 'plain'}"
        for r in parts.rows(mine)
    ]
    at = st.selectbox("Row", range(len(mine)), len(mine) - 1, format_func=names.__getitem__, key=f"correct-row-{trial}")
    row = {str(name): value for name, value in mine.iloc[at].to_dict().items()}
    dose = row["dose_g_per_kg"]  # in as many digits as the cup above shows: what is not typed over stays exact
    short = {} if is_missing(dose) else {"dose_g_per_kg": number(dose)}
    seen = row_seen.seen("correct", (trial, at), bench.revision, row, short)
    with st.form(f"correct-{trial}-{at}", border=False):
        answers = {name: _tapped(name, words, seen) for name, words in PILLS.items()}
        for name in TYPED[1:] if by_amount else TYPED:  # a dose follows from what went in
            about = columns[name].about or None
            answers[name] = st.text_input(heading(name), seen.shown(name), help=about, key=seen.key(name)).strip()
        if not st.form_submit_button("Save the correction", type="primary"):
            return
    parts.attempt(_save, bench, answers, seen)
    st.rerun()


def _tapped(name: str, words: dict[int, str], seen: RowSeen) -> str:
    """Ask for a word of a scale; nothing chosen is not told."""
    shown = seen.shown(name)
    now = int(float(shown)) if shown.replace(".", "", 1).isdigit() else None
    chosen = st.pills(heading(name), list(words), default=now, format_func=words.__getitem__, key=seen.key(name))
    return "" if chosen is None else shown if chosen == now else str(chosen)


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
