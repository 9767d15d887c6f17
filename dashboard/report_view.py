"""The trial report of a period, on the page and as one file."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.report.document import to_html
from pairing_dashboard import parts, session

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.report.document import Document

__all__ = ["show"]


def show(bench: Bench) -> None:
    """Ask for the period and the units, then write the report."""
    from pairing.report.trials import UNITS

    first, second, third = st.columns(3)
    since = first.date_input("From", None, key="report-since")
    until = second.date_input("To", None, key="report-until")
    unit = third.selectbox("Amounts in", UNITS)
    if not st.toggle("Write the report", key="report"):
        return
    try:
        with st.spinner("Writing …"):
            document = _made(bench, _day(since), _day(until), unit)
    except PairingError as error:
        parts.problem(error)
        return

    page = to_html(document)
    st.download_button(
        "The report as one file", page, "trial-report.html", "text/html", on_click="ignore", type="primary"
    )
    with st.container(border=True):
        parts.document(document)


def _day(value: date | None) -> str | None:
    return value.isoformat() if value else None


def _made(bench: Bench, since: str | None, until: str | None, unit: str) -> Document:
    from pairing.blind.kept import finished
    from pairing.report.trials import trial_report

    model = session.model(bench)
    return trial_report(
        model,
        session.table(bench, "readings"),
        since=since,
        until=until,
        unit=unit,
        comparisons=session.table(bench, "comparisons"),
        checks=finished(bench),
        suggestions=model.suggest(n=3, random_state=0),
        lots=bench.lots(),
        currency=bench.settings["currency"],
        made_on=datetime.now(UTC).date().isoformat(),
    )
