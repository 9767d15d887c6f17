"""The evening's agenda: asked for in a few fields, planned anew whenever a cup was logged."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.evening.agenda import CUPS_PER_EVENING
from pairing.model.brief import Brief
from pairing.report.evening_sheet import amounts, evening_sheet, left_out, what
from pairing.report.rotation import rotate
from pairing.safety.today import midnight
from pairing_dashboard import parts, session
from pairing_dashboard.cup import start
from pairing_dashboard.wording import entered, md

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.evening.agenda import AgendaCup, Evening
    from pairing.learned.rotation import Falling
    from pairing.model.shelf import Shelf

__all__ = ["show"]

LIMITS = {"kcal": "Energy, kcal", "sips": "Sips", "caffeine": "Caffeine, mg", "sweeteners": "Sweeteners, mg"}
"""What each taster may take tonight, and how it is asked for."""
MOST = 1e6


def show(bench: Bench) -> None:
    """Ask who is there, and draw what is to be made next and what comes after it."""
    shelf = session.shelf(bench)
    with st.container(key="evening", horizontal=True, gap="small"):
        with st.popover("Who is there", icon=":material/person:"):
            tasters = st.multiselect("Tasters", list(shelf.tasters), placeholder="everybody", key="evening-tasters")
        with st.popover("What each may take", icon=":material/speed:"):
            said = {k: st.text_input(f"{about}, at most", max_chars=20, key=f"evening-{k}").strip()
                    for k, about in LIMITS.items()}  # fmt: skip
            cups = st.number_input("Flavoured cups", 1, CUPS_PER_EVENING, CUPS_PER_EVENING, key="evening-cups")
        with st.popover("Which bottles", icon=":material/colorize:"):
            only = st.selectbox(
                "Only a saved set", list(bench.sets()), index=None, placeholder="all", key="evening-only"
            )
            first = st.multiselect("To be used first", list(shelf.flavourings), key="evening-first",
                                   format_func=lambda i: shelf.flavourings[i].name)  # fmt: skip
    try:
        most = {name: entered(text, 0, MOST, "", name) for name, text in said.items() if text}
        how = (tuple(tasters), tuple(most.items()), int(cups), only, tuple(first))
        planned = _planned(session.bench_path(), session.state_key(bench), midnight(), how, bench)
    except PairingError as error:
        parts.problem(error)
        return
    _draw(bench, planned, shelf)
    if told := rotate(_falling(session.bench_path(), session.state_key(bench), bench), shelf.names):
        st.info(md(told), icon=":material/autorenew:")


@st.cache_data(show_spinner=False, max_entries=8)
def _falling(path: str, key: str, _bench: Bench) -> tuple[Falling, ...]:
    """Look for what is liked less and less, once for each state of the log."""
    return _bench.falling()


@st.cache_data(show_spinner="Planning the evening …", max_entries=8)
def _planned(path: str, key: str, since: str, how: tuple[Any, ...], _bench: Bench) -> Evening:
    """Plan it once for each state of the log: after a cup it is another, and so is the plan."""
    tasters, most, cups, only, first = how
    asked: dict[str, Any] = {"most": dict(most) or None, "cups": cups, "only": only, "use_first": first}
    return _bench.evening(tasters, Brief(), since=since, **asked)


def _draw(bench: Bench, planned: Evening, shelf: Shelf) -> None:
    scale_g = float(bench.settings["scale_g"])
    if planned.tasted:
        st.write(f"Tasted so far: {planned.tasted} of {planned.most_cups} cups, the most that a palate bears.")
    now = planned.next
    if now is None:
        st.info("Nothing more tonight.", icon=":material/bedtime:")
    else:
        _next(now, planned, shelf, scale_g)
    later = [cup for cup in planned.cups if cup is not now]
    if later:
        told = [(cup, what(cup, shelf, scale_g)) for cup in later]
        parts.table(
            ((_called(cup, name), add, _strength(cup), str(cup.before)) for cup, (name, add) in told),
            ("Then", "Add", "Strength, × needed>", "Before it"),
            "What comes after it, weak before strong",
        )
    if len(planned.orders) > 1:
        orders = [f"- {md(name)}: {', '.join(map(str, order))}" for name, order in planned.orders.items() if order]
        st.markdown("\n".join(["Everybody has an order of their own:", "", *orders]))
    if lines := [*amounts(planned), *left_out(planned, shelf)]:
        st.markdown("\n".join(f"- {md(line)}" for line in lines))
    if planned.cups:
        st.download_button("Sheet for the bench", evening_sheet(planned, shelf, scale_g), "evening.md", "text/markdown")


def _next(cup: AgendaCup, planned: Evening, shelf: Shelf, scale_g: float) -> None:
    """Say what to make now; a warm-up has no score, so it is only poured."""
    name, add = what(cup, shelf, scale_g)
    with st.container(border=True, key="evening-next"):
        parts.ask(name if cup.scored else f"First a warm-up that nobody scores: {name}")
        before = f"{str(cup.before).capitalize()}; then pour" if str(cup.before) else "Pour"
        st.write(md(f"{before} {cup.base_g:g} g, add {add}; {planned.taste_g:g} g to each."))
        if cup.cautions:
            parts.cautions(cup.cautions, shelf)
        if cup.scored:
            start.link("Start", cup.recipe, purpose=cup.purpose, by="suggested", primary=True)
        elif planned.cups:
            first = planned.cups[0]
            st.write(md(f"Then {what(first, shelf, scale_g)[0]}: add {what(first, shelf, scale_g)[1]}."))
            start.link("Start", first.recipe, purpose=first.purpose, by="suggested", primary=True)


def _called(cup: AgendaCup, name: str) -> str:
    return f"{cup.number}. {name}{' (comes twice)' if cup.purpose == 'duplicate' else ''}"


def _strength(cup: AgendaCup) -> str:
    return f"{cup.strength:.1f}{' (lingers)' if cup.lingers else ''}"
