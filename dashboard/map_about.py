"""What is known of the flavouring chosen on the map: partners, stand-ins, the cups behind a pair; and the gaps."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.graph.queries import LIKELY
from pairing.model.recipe import Recipe
from pairing.quantities.readable import in_100
from pairing_dashboard import parts, session
from pairing_dashboard.cup import start
from pairing_dashboard.log_lines import measured
from pairing_dashboard.parts import escape
from pairing_dashboard.wording import count, interval, joined, md, number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.graph.queries import Questions
    from pairing.learned import Learned

__all__ = ["about", "begins_with", "gaps", "to_grow", "tried"]

PAIR_COLUMNS = ("With", "Liking points beyond the two>", "Chance it is good>", "Cups>", "Note")
FEW = 4
"""Gaps and stand-ins that are offered as sentences; the table has more."""


def about(bench: Bench, model: Learned, asked: Questions, chosen: str, base_id: str | None) -> None:
    """Tell of one flavouring: a partner and its cups, with the start of the pair, then stand-ins and all partners."""
    name = asked.graph.nodes[chosen]["name"]
    st.subheader(md(name), anchor=False)
    tested, predicted = asked.partners(chosen)
    rows = {r["partner"]: r for r in (*tested.to_dict("records"), *predicted.to_dict("records"))}
    with_, instead, everything = st.tabs(["Together with", "Stand-ins", "As a table"])
    with with_:
        other = st.selectbox(
            "Together with",
            list(rows),
            format_func=lambda i: str(rows[i]["name"]),
            label_visibility="collapsed",
            key=f"with-{chosen}",
        )
        if other is None:
            st.write("Nothing else is on the shelf.")
        else:
            st.html(f"<p>{escape(_pair(name, rows[other]))}</p>")
            _start(model, (chosen, other), base_id)
            if rows[other]["trials"]:
                _cups(bench, chosen, other)
    with instead:
        _stand_ins(model, asked, chosen, base_id)
    with everything:
        parts.table(map(_pair_row, tested.to_dict("records")), PAIR_COLUMNS, "Tried together")
        parts.table(map(_pair_row, predicted.to_dict("records")), PAIR_COLUMNS, "Not tried yet")


def _pair(name: str, row: Mapping[Hashable, Any]) -> str:
    """Say of a pair what is known of it."""
    gain = f"{row['synergy']:+.1f} points beyond what each brings (perhaps {row['low']:+.1f} to {row['high']:+.1f})"
    cups = f"tried in {count(int(row['trials']), 'cup')}" if row["trials"] else "not tried yet"
    note = f" {row['note']}." if row["note"] else ""
    return f"{name} with {row['name']}: {gain}, {cups}. Chance that it is good: {in_100(row['p_positive'])}.{note}"


def _start(model: Learned, flavouring_ids: tuple[str, ...], base_id: str | None) -> None:
    """Offer to start what was found, in the base that is asked for, else in the one where it is expected to be best."""
    recipes = [
        Recipe(base, dict.fromkeys(flavouring_ids)) for base in ([base_id] if base_id else list(model.shelf.bases))
    ]
    likings = model.predict(recipes)["liking"]
    best = recipes[int(likings.to_numpy().argmax())]
    what = "this pair" if len(flavouring_ids) > 1 else "this one"
    start.link(f"Start {what} in {md(model.shelf.base(best.base_id).name)}", best, primary=True)


def _stand_ins(model: Learned, asked: Questions, chosen: str, base_id: str | None) -> None:
    rows = asked.stand_ins(chosen).to_dict("records")
    if not rows:
        st.write("Nothing goes with the same partners yet: more pairs with it would tell.")
    for row in rows[:FEW]:
        shared = joined(asked.graph.nodes[i]["name"] for i in row["shared"])
        also = f" Both go with {shared}." if shared else ""
        st.html(f"<p>{escape(row['name'])} may stand in, alike by {row['similarity']:.2f} of 1.{escape(also)}</p>")
        _start(model, (row["stand_in"],), base_id)


def _pair_row(row: Mapping[Hashable, Any]) -> tuple[str, ...]:
    figures = interval(row["synergy"], row["low"], row["high"])
    return row["name"], figures, f"{row['p_positive']:.0%}", str(int(row["trials"])), row["note"] or "—"


def _cups(bench: Bench, a: str, b: str) -> None:
    """List the cups that held both."""
    readings, shelf, scale_g = bench.readings_with([a]), session.shelf(bench), bench.settings["scale_g"]
    both = set(readings.loc[readings["flavouring_id"] == b, "trial_id"])
    rows = readings[readings["trial_id"].isin(both) & readings["flavouring_id"].isin([a, b])]
    rows = rows[rows["liking"].notna()].sort_values("flavouring_id", key=lambda ids: ids != a, kind="stable")
    parts.table(
        (
            (
                number(group["liking"].iloc[0]),
                shelf.bases[base].name if (base := group["base_id"].iloc[0]) in shelf.bases else base,
                joined(measured(row, group, shelf, scale_g) for _, row in group.iterrows()),
                group["taster"].iloc[0],
            )
            for _, group in rows.groupby(["trial_id", "taster", "reading"], sort=False)
        ),
        ("Liking>", "Base", f"{shelf.names[a]}, then {shelf.names[b]}", "Taster"),
        f"{count(len(both), 'cup')} with both",
    )


def gaps(model: Learned, asked: Questions, base_id: str | None) -> None:
    """Offer pairs that nobody has tried, in the order of what could be gained."""
    try:
        rows = asked.gaps(8).to_dict("records")
    except PairingError as error:
        parts.problem(error)
        return
    if not rows:
        return
    st.subheader("Worth trying, never tried", anchor=False)
    for row in rows[:FEW]:
        pair = row["flavouring_a"], row["flavouring_b"]
        with st.container(horizontal=True, vertical_alignment="center", key=f"gap-{'-'.join(pair)}"):
            st.html(
                f"<p>{escape(row['name_a'])} with {escape(row['name_b'])}: may gain {row['gain']:.2f} points, "
                f"chance that it is good {in_100(row['p_positive'])}.</p>",
                width="stretch",
            )
            _start(model, pair, base_id)
    with st.expander("More of them, with what they are sorted by"):
        _gap_table(rows)


def _gap_table(rows: list[dict[Hashable, Any]]) -> None:
    parts.table(
        (
            (
                r["name_a"],
                r["name_b"],
                f"{r['gain']:.2f}",
                f"{r['synergy']:+.2f} ± {r['sd']:.2f}",
                f"{r['p_positive']:.0%}",
            )
            for r in rows
        ),
        (
            "Flavouring",
            "With",
            "Possible gain, liking points>",
            "Expected liking points beyond the two>",
            "Chance it is good>",
        ),
        "Gaps in the map",
    )
    st.html(
        '<p class="quiet">The possible gain is what a pair brings on average when only those that turn out good count: '
        "an uncertain pair may be worth a cup although nothing is expected of it. First come pairs with much to gain "
        "whose two flavourings go with many others.</p>"
    )


def to_grow(asked: Questions) -> str:
    """Say what would make a map grow on which there is little to see."""
    pairs = tried(asked)
    if len(asked.ids) < 2:
        return "A map needs two flavourings: put another one on the shelf."
    if not pairs:
        return "No cup held two flavourings yet. The first one draws the first line: start one of the pairs below."
    return (
        f"Little is known yet: {count(pairs, 'pair was', 'pairs were')} tried together. A second cup of a pair makes "
        "its line surer, a first one of those below draws another."
    )


def tried(asked: Questions) -> int:
    """Count the pairs that were tried together."""
    return sum(1 for *_, edge in asked.graph.edges(data=True) if edge["tested"])


def begins_with(asked: Questions) -> str:
    """Return the evidence to draw at first: pairs that are likely good; where none is, what was tried."""
    return "likely" if any(e["p_positive"] >= LIKELY for *_, e in asked.graph.edges(data=True)) else "tried"
