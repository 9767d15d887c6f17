"""What the page on trust shows: errors on held-out cups, calibration, rule weights."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.constants import Z80
from pairing_dashboard import charts, parts, session, verdicts
from pairing_dashboard.log_lines import local
from pairing_dashboard.verdicts import Verdict
from pairing_dashboard.wording import md, number, sentence

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.learned.evaluate import Evaluation

__all__ = ["curves", "show", "weights"]

CALIBRATION = "Predicted liking against the liking that was given, in groups of rising prediction"
MOST_UNASKED = 2000
"""So many cups are judged without being asked; more take too long."""


def show(bench: Bench, model: Learned) -> None:
    """Show the last verdict and renew it, judge in other ways when asked to, and show the rules."""
    held_out, rules = st.tabs(["On cups it did not see", "What each rule is worth"])
    with held_out:
        verdict, key = verdicts.kept(bench), session.state_key(bench)
        place = st.container()
        with place:
            if verdict is None:
                st.write("Not judged yet.")
            else:
                _verdict(verdict, verdict.key == key)
        with st.expander("Other ways of judging", icon=":material/tune:"):
            st.write(
                "Each way puts part of the log aside, learns from the rest, and compares what is predicted with what "
                "was said. All of them learn the log some twenty times over."
            )
            left_out = st.selectbox("Leave out a rule", [r.id for r in model.rules], index=None, placeholder="none")
            if st.toggle("Judge it in all ways", key="judge"):
                _judged(bench, model, (left_out,) if left_out else ())
        if verdict is None or verdict.key != key:
            _renew(bench, model, key, verdict is not None)
    with rules:
        weights(model.rule_weights())


def _verdict(it: Verdict, is_new: bool) -> None:
    """One sentence, one picture, one small table, and what it is of."""
    parts.ask(sentence(it.sentences[0]))
    old = "" if is_new else " The log has moved on since."
    st.html(f'<p class="quiet">Judged {parts.escape(local(it.at))} on combinations that it had not seen.{old}</p>')
    charts.calibration([dict(row) for row in it.calibration], CALIBRATION)
    parts.table(it.rows, ("What", "How far off>"), "In figures")


def _renew(bench: Bench, model: Learned, key: str, has_one: bool) -> None:
    """Judge anew below what stands there; a large log only when asked to."""
    if len(model.log.trials) > MOST_UNASKED and not st.button("Judge it on the log as it stands", type="primary"):
        return
    bar = st.progress(0.0, "Judging it anew …")
    try:
        verdicts.keep(bench, verdicts.made(model, key, bar.progress))
    except PairingError as error:
        if not has_one:
            parts.problem(error)
        return
    finally:
        bar.empty()
    st.rerun()


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
    charts.calibration(rows, CALIBRATION)
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
    for acts_on, unit in (
        ("liking", "liking points"),
        ("dose", "natural log of the needed dose"),
        ("off-note", "log odds of finding it"),
    ):
        mine = table[(table["acts_on"] == acts_on) & table["learned_mean"].notna()]
        if mine.empty:
            continue
        st.subheader(f"Rules about {acts_on}", anchor=False)
        st.markdown("\n".join(f"- **{md(r.rule)}**: {md(r.summary)}" for r in parts.rows(mine)))
        rows = [
            {
                "name": r.rule,
                **_ends("expected", r.prior_mean, r.prior_sd),
                **_ends("learned", r.learned_mean, r.learned_sd),
            }
            for r in parts.rows(mine)
        ]
        charts.expected_and_learned(rows, unit, f"What was expected of each rule and what the log made of it, {unit}")


def _ends(name: str, mean: float, sd: float) -> dict[str, float]:
    return {name: mean, f"{name}_low": mean - Z80 * sd, f"{name}_high": mean + Z80 * sd}


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
