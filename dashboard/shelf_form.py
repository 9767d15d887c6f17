"""One row of a shelf table as a form: look, add, correct."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import count
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.model.columns import TABLES, Column
from pairing.quantities.directions import label_dose
from pairing_dashboard import label_photo, parts, row_seen, session
from pairing_dashboard.row_seen import RowSeen
from pairing_dashboard.wording import heading

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["new_id", "show"]

FIRST = {
    "flavourings": ("name", "label_dose", "food_use", "allergens", "family", "energy_kcal_per_g", "stock_g"),
    "bases": ("name", "energy_kcal_per_100g", "fat_g_per_100g", "serving_g", "allergens", "made_from"),
    "tasters": ("avoid_allergens", "avoid", "body_mass_kg"),
}
"""Columns that are asked for first; all others are one click away."""
LISTED = {
    "flavourings": ("name", "label_dose", "family", "energy_kcal_per_g", "stock_g", "allergens"),
    "bases": ("name", "energy_kcal_per_100g", "serving_g", "allergens"),
    "tasters": ("taster", "avoid_allergens", "avoid", "body_mass_kg"),
}


def show(bench: Bench, table: str) -> None:
    """Draw the list of a table and the form for one row."""
    rows = session.table(bench, table)
    st.dataframe(
        rows[list(LISTED[table])].rename(columns=heading), hide_index=True, key=f"list-{table}", placeholder="unknown"
    )
    key = TABLES[table].key[0]
    names = dict(zip(rows[key], rows["name" if "name" in rows else key], strict=True))
    parts.renamed(f"choose-{table}", names)
    chosen = st.selectbox(
        "Correct",
        list(names),
        index=None,
        format_func=names.__getitem__,
        placeholder="choose one",
        key=f"choose-{table}",
    )
    if chosen is not None:
        row = rows[rows[key] == chosen].iloc[0].to_dict()
        if table == "flavourings" and (direction := label_dose(session.shelf(bench).flavouring(chosen))):
            parts.label(direction)
        _form(bench, table, row)
        if table != "tasters":
            label_photo.show(bench, chosen)
    with st.expander("Add one", icon=":material/add:", key=f"add-{table}"):
        _form(bench, table, {})


def _form(bench: Bench, table: str, row: dict[str, Any]) -> None:
    columns = TABLES[table].by_name
    key = TABLES[table].key[0]
    seen = row_seen.seen(table if row else f"new-{table}", row.get(key), bench.revision, row)
    with st.form(f"form-{table}-{row.get(key)}", border=bool(row)):  # what is added stands in a frame already
        answers = {key: row[key]} if row else {}
        for name in dict.fromkeys((*(() if row or "name" in columns else (key,)), *FIRST[table])):
            answers[name] = _field(columns[name], seen)
        with st.expander("All other facts"):
            for name, column in columns.items():
                if name not in answers:
                    answers[name] = _field(column, seen, made=name == key)
        st.html(
            '<p class="quiet">Empty is unknown, never zero. Write <b>none</b> for what the label declares free.</p>'
        )
        if not st.form_submit_button("Save the correction" if row else "Put it on the shelf", type="primary"):
            return
    parts.attempt(_save, bench, table, answers, seen)
    st.rerun()


def _field(column: Column, seen: RowSeen, *, made: bool = False) -> str:
    """Ask for one column: by a tap where it is a choice, else as text; the store says what it does not understand."""
    label = heading(column.name) + (", made from the name if empty" if made else ", needed" if column.required else "")
    shown, key = seen.shown(column.name), seen.key(column.name)
    if column.choices and shown in ("", *column.choices):
        default = shown or None
        return st.pills(label, column.choices, default=default, help=column.about or None, key=key) or ""
    return st.text_input(label, shown, help=_help(column), max_chars=4000, key=key).strip()


def _help(column: Column) -> str | None:
    choices = f"one of: {', '.join(column.choices)}" if column.choices else ""
    limits = ""
    if column.low is not None or column.high is not None:
        limits = f"{column.low if column.low is not None else '…'} to {column.high if column.high is not None else '…'}"
    return "; ".join(filter(None, (column.about, choices, limits))) or None


def _save(bench: Bench, table: str, answers: dict[str, str], seen: RowSeen) -> None:
    import pandas as pd

    key = TABLES[table].key[0]

    def write(changed: dict[str, str]) -> None:
        if not seen.row:
            cells = {name: text or None for name, text in answers.items()}
            given: dict[str, Any] = {table: pd.DataFrame([cells])}
            session.taken(bench.load(**given))
        elif changes := {name: text or None for name, text in changed.items()}:
            bench.correct(table, {key: seen.row[key]}, changes, expected_revision=seen.revision)

    answers = {
        **answers,
        key: answers.get(key) or new_id(answers.get("name", ""), session.table(bench, table)[key]) or "",
    }
    row_seen.save(seen, answers, write)
    facts = session.shelf(bench).flavourings.get(answers[key]) if table == "flavourings" else None
    read = None if facts is None else label_dose(facts)
    parts.remember(f"{answers.get('name') or answers[key]} is saved{f'; its label is read as {read}' if read else ''}.")


def new_id(name: str, taken: Iterable[str]) -> str | None:
    """Make an id from a name: lower case, hyphens, a number where it is taken.

    Examples
    --------
    >>> new_id("Oat drink", ["oat-drink"]), new_id(" ", [])
    ('oat-drink-2', None)
    """
    known, stem = set(taken), "-".join(re.findall(r"\w+", name.lower()))
    if not stem:
        return None
    return next(i for n in count(1) if (i := stem if n == 1 else f"{stem}-{n}") not in known)
