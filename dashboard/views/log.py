"""Log: every cup that was tasted; filter, correct, undo, report, import, export."""

import streamlit as st

from pairing_dashboard import begin, importing, log_views, pages, report_view, session

pages.head("log")
bench = begin.needed()
cups, report, load, export = st.tabs(["Cups", "Report", "Import", "Export"], key="tab", bind="query-params")
with cups:
    log_views.cups(bench)
with report:
    report_view.show(bench)
with load:
    importing.show(bench)
with export:
    log_views.export(bench)
session.watch(bench)
