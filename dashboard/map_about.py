"""What is known of the flavouring chosen on the map: partners, stand-ins, the cups behind a pair; and the gaps."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.model.constants import Z80
from pairing_dashboard import parts, session
from pairing_dashboard.wording import count, interval, joined, md, number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.graph.queries import Questions

__all__ = ["about", "gaps"]

PAIR_COLUMNS = ("With", "Liking points beyond the two>", "Chance it is good>", "Cups>", "Note")


def about(bench: Bench, asked: Questions, chosen: str) -> None:
    """Tell partners, stand-ins and the cups behind a pair."""
    name = asked.graph.nodes[chosen]["name"]
    st.subheader(md(name), anchor=False)
    with_, instead, cups = st.tabs(["Partners", "Stand-ins", "Cups behind a pair"])
    tested, predicted = asked.partners(chosen)
    with with_:
        parts.table(map(_pair_row, tested.to_dict("records")), PAIR_COLUMNS, "Tried together")
        parts.table(map(_pair_row, predicted.to_dict("records")), PAIR_COLUMNS, "Not tried yet")
    with instead:
        st.write(f"What goes, and clashes, with the same partners as {md(name)}.")
        rows = asked.stand_ins(chosen).to_dict("records")
        shared = {i: asked.graph.nodes[i]["name"] for i in asked.ids}
        parts.table(
            (
                (r["name"], r["family"] or "—", f"{r['similarity']:.2f}", joined(shared[i] for i in r["shared"]) or "—")
                for r in rows
            ),
            ("Instead", "Family", "Similarity, 0 to 1>", "Partners of both"),
            "Stand-ins",
        )
    with cups:
        others = {r["partner"]: r["name"] for r in tested.to_dict("records")}
        if not others:
            st.write("No cup had it together with another flavouring yet.")
            return
        other = st.selectbox("Together with", list(others), format_func=others.__getitem__)
        _cups(bench, chosen, other)


def _pair_row(row: Mapping[Hashable, Any]) -> tuple[str, ...]:
    figures = interval(row["synergy"], row["low"], row["high"])
    return row["name"], figures, f"{row['p_positive']:.0%}", str(int(row["trials"])), row["note"] or "—"


def _cups(bench: Bench, a: str, b: str) -> None:
    """List the cups that held both."""
    readings = session.table(bench, "readings")
    both = set(readings.loc[readings["flavouring_id"] == a, "trial_id"])
    both &= set(readings.loc[readings["flavouring_id"] == b, "trial_id"])
    rows = readings[readings["trial_id"].isin(both) & readings["flavouring_id"].isin([a, b])]
    parts.table(
        (
            (
                trial,
                group["base_id"].iloc[0],
                group["taster"].iloc[0],
                number(group["liking"].iloc[0]),
                joined(f"{f} {number(d)}" for f, d in zip(group["flavouring_id"], group["dose_g_per_kg"], strict=True)),
            )
            for (trial, _, _), group in rows.groupby(["trial_id", "taster", "reading"], sort=False)
        ),
        ("Cup", "Base", "Taster", "Liking, 1–9>", "Doses, g/kg"),
        f"{count(len(both), 'cup')} with both",
    )


def gaps(asked: Questions) -> None:
    """Offer pairs that nobody has tried, in the order of what could be gained."""
    try:
        rows = asked.gaps(8).to_dict("records")
    except PairingError as error:
        parts.problem(error)
        return
    st.subheader("Worth trying, never tried", anchor=False)
    parts.table(
        (
            (
                r["name_a"],
                r["name_b"],
                f"{r['gain']:.2f}",
                f"{r['synergy']:+.2f} ± {Z80 * r['sd']:.2f}",
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
