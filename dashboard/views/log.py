"""Log: every cup that was tasted; filter, correct, undo, report, import, export."""

import streamlit as st

from pairing_dashboard import begin, importing, log_views, parts, report_view, session

parts.title("Log", "Every cup. Nothing is deleted: a correction and an undo are kept as revisions.")
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
