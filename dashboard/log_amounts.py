"""How much really went into a logged cup: corrected as a hand measures it, and the doses of every sip follow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.fields import is_missing
from pairing.model.weighing import amended
from pairing_dashboard import parts, session
from pairing_dashboard.wording import count, md

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.model.cup import Cup

__all__ = ["correct"]


def correct(bench: Bench, made: Cup, mine: pd.DataFrame) -> None:
    """Ask for each amount of a cup whose steps are kept, and store what was written otherwise."""
    shelf = session.shelf(bench)
    measured = {n: step for n, step in enumerate(made.steps) if step.kind in ("pour", "add")}
    with st.form(f"amounts-{made.trial_id}", border=False):
        st.write("**How much went in**, in g, drops or ml. The doses of every sip after it follow.")
        written = {}
        for n, step in measured.items():
            sips = sum(before.kind == "sip" for before in made.steps[:n])
            when = f" after {count(sips, 'sip')}" if sips else ""
            label, shown = f"{shelf.names.get(str(step.item_id), step.item_id)}{when}", step.as_entered or ""
            written[n] = st.text_input(md(label), shown, key=f"went-in-{made.trial_id}-{n}-{shown}", max_chars=30)
        if not st.form_submit_button("Save the amounts", type="primary"):
            return
    other = {n: text.strip() for n, text in written.items() if text.strip() != (measured[n].as_entered or "")}
    if other:
        parts.attempt(_save, bench, made, mine, other)
    else:  # so it is where somebody else has just corrected that same amount
        parts.remember("No amount is other than what is kept.")
    st.rerun()


def _save(bench: Bench, made: Cup, mine: pd.DataFrame, other: dict[int, str]) -> None:
    """Log the cup again as it really was; the one before stays in the history."""
    ended, chosen_by = (None if is_missing(last) else str(last) for last in mine[["ended", "chosen_by"]].iloc[-1])
    again = amended(made, other, session.shelf(bench))
    bench.log(again, ended=ended, chosen_by=chosen_by, on_conflict="revise")
    parts.remember("The amounts are saved as a new revision, and the doses of the sips after them follow.")
