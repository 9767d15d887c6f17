"""Planning a blind check, answering it serving by serving, and what finished ones say."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.blind.pvalue import PValue, p_number
from pairing.errors import PairingError
from pairing.model.recipe import parse_recipe_text, recipe_text
from pairing_dashboard import parts, session
from pairing_dashboard.blind_plan import PLANNED, plan
from pairing_dashboard.wording import amount, joined, md

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.blind.check import BlindCheck
    from pairing.blind.sheets import Sheet
    from pairing.model.shelf import Shelf

__all__ = ["show"]

RESULT = "blind-result"
TAB, IN_HAND = "check-tab", "In hand"


def show(bench: Bench) -> None:
    """Go on with the checks in hand, plan another, look at the finished ones."""
    from pairing.blind.kept import open_checks, resume

    in_hand = open_checks(bench)
    if st.session_state.pop(PLANNED, False):
        st.session_state[TAB] = IN_HAND
    now, new, finished = st.tabs([IN_HAND, "Plan a check", "Finished"], key=TAB, bind="query-params")
    with now:
        if said := st.session_state.pop(RESULT, None):
            st.success(md(said), icon=":material/check:")
        if not in_hand:
            st.write("No check is in hand. Plan one first.")
        else:
            chosen = st.selectbox("Check", in_hand) if len(in_hand) > 1 else in_hand[0]
            with st.container(key="bench"):
                _answer(bench, resume(bench, chosen))
    with new:
        plan(bench)
    with finished:
        _finished(bench)


def _answer(bench: Bench, check: BlindCheck) -> None:
    """Ask for the code of the picked cup; the contents are shown only to a helper who asks."""
    from pairing.blind.sheets import helper_sheet, stickers, taster_sheet

    st.html(f'<p class="quiet">{parts.escape(check.progress)}</p>')
    serving = check.next_serving
    if serving is None:
        st.button("Enter it in the log and see", type="primary", on_click=_finish, args=(bench, check))
        return
    if serving.session > 1 and (check.answers and check.serving(len(check.answers)).session < serving.session):
        st.info("A new session begins here: best on another day, with freshly mixed batches.")
    parts.ask(check.asked.ask)
    with st.container(key="answer-code"):
        for code in (*serving.codes, *(["tie"] if check.ties else [])):
            st.button(
                code,
                key=f"{check.check_id}-{serving.number}-{code}",
                width="stretch",
                on_click=_pick,
                args=(bench, check, code),
            )
    with st.expander("Leave this serving out"):
        key = f"why-{serving.number}"
        st.text_input("What happened?", placeholder="spilled, interrupted, wrong cup", key=key)
        st.button("Leave it out", on_click=_skip, args=(bench, check, key))
    st.button(
        "Take the last answer back",
        icon=":material/undo:",
        disabled=not check.answers,
        on_click=_back,
        args=(bench, check),
    )
    shelf = session.shelf(bench)
    how: dict[str, Any] = {"rules": session.host(bench).rules, "already": session.swallowed(bench)}
    with st.expander("The taster's sheet"):
        _sheet(taster_sheet(check, shelf, **how))
    # alone, the cups are made by it before the first answer
    for_whom = "Stickers and steps for tasting alone" if check.alone else "The helper's sheet: not for the taster"
    with st.expander(for_whom, expanded=check.alone and not check.answers):
        scale_g = bench.settings["scale_g"]
        _sheet((stickers if check.alone else helper_sheet)(check, shelf, scale_g, **how))
    with st.expander("Put this check away"):
        st.write("Half a check is never judged: its answers go with it. It may also rest here until another day.")
        st.button("Put it away for good", on_click=_put_away, args=(bench, check))


def _pick(bench: Bench, check: BlindCheck, code: str) -> None:
    _keep(bench, parts.attempt(check.answer, code, at=datetime.now(UTC).isoformat(timespec="seconds")))


def _skip(bench: Bench, check: BlindCheck, key: str) -> None:
    _keep(bench, parts.attempt(check.skip, note=st.session_state[key].strip()))


def _back(bench: Bench, check: BlindCheck) -> None:
    _keep(bench, parts.attempt(check.take_back))


def _put_away(bench: Bench, check: BlindCheck) -> None:
    from pairing.blind.kept import drop

    parts.attempt(drop, bench, check.check_id)


def _keep(bench: Bench, check: BlindCheck | None) -> None:
    """Save the check after every answer; one that is finished goes into the log."""
    from pairing.blind.kept import keep

    if check is None:
        return
    keep(bench, check)
    if check.finished:
        _finish(bench, check)


def _finish(bench: Bench, check: BlindCheck) -> None:
    from pairing.blind.kept import finish
    from pairing.blind.result import said

    if found := parts.attempt(finish, bench, check):
        shelf = session.shelf(bench)
        st.session_state[RESULT] = said(check, found, lambda side: _side(recipe_text(side), shelf))


def _sheet(sheet: Sheet) -> None:
    for line in sheet.text:
        st.write(md(line))
    st.markdown("\n".join(f"- {md(line)}" for line in sheet.checklist))
    parts.table(sheet.rows, sheet.columns, sheet.title)


def _how(row: Any) -> str:
    return PValue(row.p_value, row.two_sided, row.sequential).how


def _side(text: str, shelf: Shelf) -> str:
    """Write a side of a check in names; one that is no recipe of this shelf as it was written."""
    try:
        recipe = parse_recipe_text(text)
        base = shelf.base(recipe.base_id).name
        inside = joined(f"{shelf.flavouring(i).name} {amount(dose, 'g/kg')}" for i, dose in recipe.doses.items())
    except PairingError:
        return text
    return f"{inside or 'Plain'} in {base}"


def _finished(bench: Bench) -> None:
    from pairing.blind.kept import finished, summary

    table = summary(session.table(bench, "comparisons"), finished(bench))
    if table.empty:
        st.write("No check is finished yet.")
        return
    shelf = session.shelf(bench)
    parts.table(
        (
            (
                r.question,
                f"{r.picked_a} of {r.n}",
                *(_side(it, shelf) for it in (r.a, r.b)),
                p_number(r.p_value),
                _how(r),
                r.taster,
            )
            for r in parts.rows(table)
        ),
        ("Question", "Times>", "Expected, or picked more often", "Over", "Exact p>", "How", "Taster"),
        "Finished blind checks",
    )
