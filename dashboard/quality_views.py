"""What the page on trust shows: errors on held-out cups, calibration, rule weights."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.constants import Z80
from pairing_dashboard import charts, parts, session
from pairing_dashboard.wording import md, number, sentence

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.learned.evaluate import Evaluation

__all__ = ["show", "weights"]


def show(bench: Bench, model: Learned) -> None:
    """Judge the model when asked to, and show the rules."""
    held_out, rules = st.tabs(["On cups it did not see", "What each rule is worth"])
    with held_out:
        st.write(
            "Part of the log is put aside, the rest is learned from, and what is predicted is compared with what was "
            "said. This learns the log some twenty times over."
        )
        left_out = st.selectbox("Leave out a rule", [r.id for r in model.rules], index=None, placeholder="none")
        if st.toggle("Judge it now", key="judge"):
            _judged(bench, model, (left_out,) if left_out else ())
    with rules:
        weights(model.rule_weights())


def _judged(bench: Bench, model: Learned, without: tuple[str, ...]) -> None:
    bar = st.progress(0.0, "Learning without some cups …")
    try:
        found = _evaluated(session.bench_path(), session.state_key(bench), without, model, bar.progress)
    except PairingError as error:
        parts.problem(error)
        return
    finally:
        bar.empty()
    st.markdown("\n".join(f"- {md(sentence(text))}" for text in found.sentences))
    rows = [{"predicted": r.predicted, "came": r.observed, "cups": int(r.cups)} for r in parts.rows(found.calibration)]
    about = "Predicted liking against the liking that was given, in groups of rising prediction"
    charts.calibration(rows, about)
    _tables(found)


@st.cache_resource(show_spinner=False, max_entries=4)
def _evaluated(
    path: str, key: str, without: tuple[str, ...], _model: Learned, _progress: Callable[[float], object]
) -> Evaluation:
    from pairing.learned.evaluate import evaluate

    return evaluate(_model, without=without, progress=_progress)


def _tables(found: Evaluation) -> None:
    for frame, caption in (
        (found.table, "Error of liking, points (root mean square), beside simpler ways of guessing"),
        (found.doses, "Error of the needed dose, natural log units"),
    ):
        rows = (tuple(number(v, 2) if isinstance(v, float) else str(v) for v in row) for row in parts.rows(frame))
        names = [str(c).replace("_", " ") + (">" if frame[c].dtype.kind in "if" else "") for c in frame.columns]
        with st.expander(caption):
            parts.table(rows, names, caption)


def weights(table: pd.DataFrame) -> None:
    """Show what was expected of each rule beside what the log made of it."""
    for acts_on, unit in (("liking", "liking points"), ("dose", "natural log of the needed dose")):
        mine = table[(table["acts_on"] == acts_on) & table["learned_mean"].notna()]
        if mine.empty:
            continue
        st.subheader(f"Rules about {acts_on}", anchor=False)
        rows = [
            {
                "name": f"{r.rule}: {when}",
                "value": mean,
                "low": mean - Z80 * sd,
                "high": mean + Z80 * sd,
            }
            for r in parts.rows(mine)
            for when, mean, sd in (("expected", r.prior_mean, r.prior_sd), ("learned", r.learned_mean, r.learned_sd))
        ]
        charts.dots(rows, unit, f"What was expected of each rule and what the log made of it, {unit}", zero=0.0)
        st.markdown("\n".join(f"- **{md(r.rule)}**: {md(r.summary)}" for r in parts.rows(mine)))


def curves(table: pd.DataFrame) -> None:
    """Draw what was learned of each rule with a curve, point by point."""
    for rule, mine in table.groupby("rule", sort=False):
        unit = "liking points" if mine["acts_on"].iloc[0] == "liking" else "natural log of the needed dose"
        rows = [
            {"name": f"{r.part:g}" if isinstance(r.part, float | int) else str(r.part), "value": r.learned_mean,
             "low": r.low, "high": r.high}
            for r in parts.rows(mine)
        ]  # fmt: skip
        along = str(mine["along"].iloc[0]) or "its parts"
        st.markdown(f"**{md(rule)}** along {md(along)}")
        charts.dots(rows, unit, f"What the log made of {rule} along {along}, {unit}", zero=0.0)
