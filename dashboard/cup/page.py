"""The cup in hand on the page: where it stands, the next question, the way back, and putting it into the log."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import ConflictError, PairingError
from pairing.model.columns import JUST_RIGHT
from pairing.model.portions import Portion
from pairing.model.recipe import Recipe
from pairing.nutrition.serving import serving
from pairing.stock.reckon import lots_in_doubt
from pairing_dashboard import pages, parts, session
from pairing_dashboard.cup import after, before, changed, during, fix, ladder, seasoned, start, swallowed
from pairing_dashboard.cup.draft import Draft, State, cup, overridden, state
from pairing_dashboard.cup.step import Step
from pairing_dashboard.strips import kcal as sums_kcal
from pairing_dashboard.wording import amount, joined, md

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf
    from pairing.stock.reckon import Held

__all__ = ["choose", "go_on", "waiting"]

LATEST = 2000
"""Rows of the log, the last ones, that tell who tastes here and in what words."""
QUESTIONS = {
    **{q.__name__: q for q in (before.base, before.flavourings, before.pour)},
    **{q.__name__: q for q in (during.add, during.sip, after.end, after.liking, after.rest)},
}
"""How each question is asked."""
LOGGED, TAPPED = "logged", "tapped"


def choose(bench: Bench, lost: str | None) -> None:
    """Offer a new cup and those that are not finished."""
    logged, known = st.session_state.get(LOGGED, (None, None))
    if lost and logged and lost == logged.draft_id:
        _logged(bench, logged, known)
    elif lost:
        st.info("That cup is not on the bench any more: it is in the log, or was put away.")
    start.link("A new cup", primary=not lost, stretch=True)
    for draft_id, label in waiting(bench):
        pages.link("bench", f"Go on with {label}", icon=":material/science:", stretch=True, cup=draft_id)
    if lost:
        swallowed.show(bench)


def waiting(bench: Bench) -> list[tuple[str, str]]:
    """Return id and description of each unfinished cup, the one that was touched last first."""
    found = []
    for kept in bench.list_drafts():
        if ":" in kept["draft_id"]:  # a check in hand, not a cup
            continue
        draft = session.load(bench, kept["draft_id"])
        if draft is None or (now := state(draft)).base_id is None:
            continue
        touched = draft.events[-1]["at"]
        found.append((touched, draft.draft_id, f"{called(now, session.shelf(bench))}: {told_apart(draft, now)}"))
    return [(draft_id, md(label)) for _, draft_id, label in sorted(found, reverse=True)]


def called(now: State, shelf: Shelf) -> str:
    """Name a cup by its base and what goes in."""
    names = [ladder.name_of(shelf, i) for i in now.planned]
    base = shelf.bases[now.base_id].name if now.base_id and now.base_id in shelf.bases else str(now.base_id)
    return f"{base} with {joined(names)}" if names else base


def told_apart(draft: Draft, now: State) -> str:
    """Say what tells a cup from others of the same kind: how much, whose, and since when (time of this machine)."""
    begun = datetime.fromisoformat(draft.events[0]["at"]).astimezone()
    day = "" if begun.date() == datetime.now().date() else f"{begun:%d %b} "
    poured = amount(now.base_g, "g") if now.base_g else "not poured"
    return ", ".join([poured, *([f"for {joined(now.tasters)}"] if now.tasters else []), f"begun {day}{begun:%H:%M}"])


def go_on(bench: Bench, draft: Draft) -> None:
    """Ask the next question of a cup; show where it stands and the way back."""
    shelf, now = session.shelf(bench), state(draft)
    head, body = st.container(), st.container()
    made, gone = _made(draft, shelf)
    step = Step(
        shelf=shelf,
        draft=draft,
        state=now,
        tap=partial(_tap, bench, draft),
        advise=partial(_advise, bench, draft, shelf, now),
        readings=bench.latest("readings", LATEST),
        jurisdiction=bench.settings["jurisdiction"],
        rules=session.host(bench).rules,
        attributes=session.host(bench).attributes,
        already=session.swallowed(bench),
        keep=bench.keep,
        targets=session.targets(bench),
        brought={b.base_id: b.name for b in session.host(bench).bases if b.base_id not in shelf.bases},
        bar=st.container(key="act", horizontal=True),
        made=made,
        needed=partial(_needed, bench, now),
        portion=partial(_portion, bench),
    )
    _undo(step)
    session.ready_to_learn()
    with body:
        try:
            if gone is not None:
                raise gone
            if now.question == "done":
                finish = partial(_finish, bench, draft)
                step.bar.button("Put this cup into the log", type="primary", width="stretch", on_click=finish)
            elif (doubt := _doubt(bench, now)) is not None:
                before.bottle(step, *doubt)
            else:
                QUESTIONS[now.question](step)
            with head:
                _where(bench, now, made, shelf)
        except PairingError as error:  # something in it has left the shelf: back and away are still there
            parts.problem(error)
        if made is not None and made.readings:
            with st.expander("The ladder so far", icon=":material/stairs:"):
                ladder.draw(made, shelf)
        _ways_out(bench, step, going_on=made is not None and now.question != "done")


def _made(draft: Draft, shelf: Shelf) -> tuple[Cup | None, PairingError | None]:
    """Make the cup of a draft, None before it is poured; what is in the way is handed over, to be said in its place."""
    try:
        return (cup(draft, shelf) if state(draft).base_g else None), None
    except PairingError as error:
        return None, error


def _needed(bench: Bench, now: State, flavouring_id: str) -> tuple[float, float, float] | None:
    """Return the dose that a flavouring needs in this cup with its 80 % interval; None where none is in reach."""
    beside = [i for i in now.planned if i != flavouring_id]
    found = session.model(bench).needed_dose([now.base_id or ""], [flavouring_id], beside or None)
    row = next(parts.rows(found))
    return (row.dose_g_per_kg, row.low, row.high) if row.reachable else None


def _portion(bench: Bench, flavouring_id: str, grams: float) -> Portion:
    """Return how so many g of a flavouring are measured out at this bench."""
    return session.shelf(bench).portion(flavouring_id, grams, bench.settings["scale_g"])


def _doubt(bench: Bench, now: State) -> tuple[str, tuple[Held, ...]] | None:
    """Return what is poured next and its open lots, where there are several and nobody said yet which is in use."""
    item = {"pour": now.base_id, "add": now.current}.get(now.question)
    shelf = session.shelf(bench)
    if item is None or item in now.lots or item in shelf.lot_in_use or item not in shelf.held_g:
        return None
    lots = lots_in_doubt(item, bench.lots())
    return (item, lots) if lots else None


def _tap(bench: Bench, draft: Draft, kind: str, **facts: Any) -> None:
    """Save one answer; one that was given to an older state of the cup is refused by the bench."""
    if kind == "base" and facts["base_id"] not in session.shelf(bench).bases:
        parts.attempt(session.take_on, bench, facts["base_id"])
    changed = draft.undo() if kind == "undo" else draft.add(kind, **facts)
    if kind != "undo" and state(changed).base_g and parts.attempt(cup, changed, session.shelf(bench)) is None:
        return  # the cup cannot take that step: the reason is shown, the cup stays as it was
    if kind == "read" and _is_settled(bench, changed):
        changed = draft.add(kind, **facts, settles=[state(changed).current])
    try:
        kept = session.save(bench, changed)
    except ConflictError:
        if not _tapped_twice(changed):
            parts.remember("This cup has moved on in another window. Here is where it stands now.")
        return
    st.session_state[TAPPED] = changed
    if state(kept).question == "done":
        _finish(bench, kept)


def _is_settled(bench: Bench, draft: Draft) -> bool:
    """Whether the word that was just said ends the steps of its flavouring; one undo takes back both."""
    now = state(draft)
    word = draft.live[-1]["strength"].get(now.current)
    if word != JUST_RIGHT:
        return False
    return during.settles(_advise(bench, draft, session.shelf(bench), now), word)


def _tapped_twice(changed: Draft) -> bool:
    """Whether this very window has just given that same answer to that same question."""
    last: Draft | None = st.session_state.get(TAPPED)
    return last is not None and [{**e, "at": ""} for e in last.events] == [{**e, "at": ""} for e in changed.events]


def _advise(bench: Bench, draft: Draft, shelf: Shelf, now: State) -> Any:
    """Ask for the next addition; a refusal is an answer too."""
    try:
        how: dict[str, Any] = {"scale_g": bench.settings["scale_g"], "override": now.current in now.overridden}
        asked = cup(draft, shelf), now.current or ""
        how["already"] = session.swallowed(bench)
        return session.model(bench).next_addition(*asked, tasters=now.tasters, **how)
    except PairingError as error:
        return error


def _where(bench: Bench, now: State, made: Cup | None, shelf: Shelf) -> None:
    """One line on what went into the cup, as a hand measures it, and the running figures; doses are on the ladder."""
    if now.base_id is None:
        return
    if made is None:
        st.html(f'<div class="where"><strong>{parts.escape(called(now, shelf))}</strong></div>')
        return
    portions = {i: _portion(bench, i, g) for i, g in _gone_in(made).items()}
    inside = " · ".join(
        f"{ladder.name_of(shelf, i)} {it if it.g > 0 else amount(it.wanted_g, 'g')}" for i, it in portions.items()
    )
    kcal = added_kcal(made, shelf, bench.settings["jurisdiction"])
    figures = [sums_kcal(kcal)] + ([f"sip {len(made.readings)}"] if made.readings else [])
    base = shelf.bases[now.base_id].name if now.base_id in shelf.bases else now.base_id
    st.html(
        f'<div class="where"><span><strong>{parts.escape(base)} {amount(made.base_g, "g")}</strong>'
        f"{f' · {parts.escape(inside)}' if inside else ''}</span><span>{' · '.join(figures)}</span></div>"
    )


def _gone_in(made: Cup) -> dict[str, float]:
    """Return g of each flavouring that was put into a cup, sips or no sips since."""
    grams: dict[str, float] = {}
    for it in made.steps:
        if it.kind == "add" and it.item_id is not None:
            grams[it.item_id] = grams.get(it.item_id, 0.0) + (it.amount_g or 0.0)
    return grams


def added_kcal(made: Cup, shelf: Shelf, jurisdiction: str) -> float | None:
    """Return the energy of all that was put into a cup, sips or no sips since; None where it is unknown."""
    grams = _gone_in(made)
    whole = made.base_g + sum(grams.values())
    doses = {i: 1000 * g / whole for i, g in grams.items()}
    return serving(Recipe(made.base_id, doses), shelf, made.base_g, jurisdiction).added_kcal


def _undo(step: Step) -> None:
    step.bar.button(
        "Undo",
        key=step.key("undo"),
        icon=":material/undo:",
        on_click=step.tap,
        args=("undo",),
        disabled=not step.draft.live or step.draft.live[-1]["kind"] == "logged",
    )


def _ways_out(bench: Bench, step: Step, going_on: bool) -> None:
    """Offer to end the cup early, and larger type; a cup that is not going on is put away."""
    with st.expander("End this cup", icon=":material/stop_circle:"):
        if not going_on:
            st.button(
                "Put it away", key=step.key("drop"), width="stretch", on_click=_put_away, args=(bench, step.draft)
            )
        else:
            for ended in after.ENDS[1:]:
                step.button(ended.capitalize(), "end", ended=ended)
    if st.toggle("Larger type", key="large", bind="query-params"):
        st.html("<style>html { font-size: 23px !important; }</style>")


def _put_away(bench: Bench, draft: Draft) -> None:
    bench.drop_draft(draft.draft_id)
    start.drop_address()


def _finish(bench: Bench, draft: Draft) -> None:
    """Put the cup into the log; it stays on the bench until that has worked."""
    now = state(draft)
    made = parts.attempt(cup, draft, session.shelf(bench))
    if made is None:
        return
    known = changed.before(bench, made)
    said = {"ended": now.ended, "chosen_by": now.chosen_by, "overridden": overridden(draft)}
    again = draft.events[0]["kind"] == "logged"
    said["on_conflict"] = "revise" if again else "refuse"
    if parts.attempt(bench.log, made, **said, draft_id=draft.draft_id):
        st.session_state[LOGGED] = draft, known


def _logged(bench: Bench, draft: Draft, known: changed.Before | None) -> None:
    """Say that the cup is in the log and what it changed; undo takes it out and brings it back to the bench."""
    st.success("The cup is in the log.", icon=":material/check:")
    with st.container(key="go-next"):
        pages.link("next_cups", "What to try next", stretch=True)
    if known is not None:
        changed.show(bench, known)
        fix.ask(bench, known.made)
        seasoned.ask(bench, known.made)
    pages.link("log", "Keep, correct or print it", icon=":material/receipt_long:", stretch=True, trial=draft.draft_id)
    if st.button("Undo: take it out of the log again", icon=":material/undo:", width="stretch"):
        history = bench.history()
        logged = history.loc[history["about"] == f"trial {draft.draft_id}", "revision"]
        if len(logged) and parts.attempt(bench.undo, int(logged.max())):
            st.session_state.pop(LOGGED)
            parts.attempt(session.save, bench, replace(draft.undo(), version=0))
            parts.remember("Taken out of the log again, and back on the bench with its last answer open.")
        st.rerun()
