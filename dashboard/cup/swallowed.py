"""What each taster has swallowed today, over all cups of the day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.model.cup import Cup, Step
from pairing.model.fields import is_missing
from pairing.safety.swallowed import Tally, tally
from pairing_dashboard import parts, session
from pairing_dashboard.wording import amount, md, number

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["show", "todays_cups"]


def show(bench: Bench) -> None:
    """Write the day's tally of everybody who took a sip, with the limits that it comes near."""
    cups = list(todays_cups(bench))
    tasters = list(dict.fromkeys(s.taster or "me" for cup in cups for s in cup.steps if s.kind == "sip"))
    if not tasters:
        return
    shelf, jurisdiction = session.shelf(bench), bench.settings["jurisdiction"]
    found = [tally(cups, shelf, taster, jurisdiction) for taster in tasters]
    parts.table(
        (
            (t.taster, amount(t.drink_g, "g"), *(_known(t, name) for name in ("kcal", "caffeine_mg", "ethanol_g")))
            for t in found
        ),
        ("Taster", "Drink>", "Energy, kcal>", "Caffeine, mg>", "Ethanol, g>"),
        "Swallowed today, sip by sip",
    )
    for one in found:
        for caution in one.cautions:
            st.warning(f"{md(one.taster)}: {md(caution.text)}", icon=":material/warning:")


def _known(of: Tally, name: str) -> str:
    value = getattr(of, name)
    return number(value, 2) if value is not None else f"at least {number(of.at_least[name], 2)}"


def todays_cups(bench: Bench) -> Iterator[Cup]:
    """Make every cup of today (UTC) again from its steps."""
    steps = session.table(bench, "steps")
    today = datetime.now(UTC).date().isoformat()
    poured = steps[(steps["kind"] == "pour") & steps["at"].fillna("").str.startswith(today)]
    shelf = session.shelf(bench)
    for trial_id, rows in steps[steps["trial_id"].isin(poured["trial_id"])].groupby("trial_id", sort=False):
        cells = rows.sort_values("step").to_dict("records")
        known: list[dict[str, Any]] = [{str(k): None if is_missing(v) else v for k, v in row.items()} for row in cells]
        kept = [Step(**{f.name: row[f.name] for f in fields(Step) if f.name in row}) for row in known]
        if kept[0].item_id is not None:
            yield Cup.from_steps(kept[0].item_id, kept, trial_id=str(trial_id), shelf=shelf)
