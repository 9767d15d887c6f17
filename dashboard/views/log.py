"""Log: every cup that was tasted; filter, correct, undo, report, import, export."""

import streamlit as st

from pairing_dashboard import begin, importing, log_views, pages, report_view, session

pages.head("log")
bench = begin.needed()
cups, correct, report, load, export = st.tabs(["Cups", "Correct", "Report", "Import", "Export"])
with cups:
    log_views.cups(bench)
with correct:
    log_views.correct(bench)
with report:
    report_view.show(bench)
with load:
    importing.show(bench)
with export:
    log_views.export(bench)
session.watch(bench)
