"""Log: every cup that was tasted; filter, correct, undo, import, export."""

import streamlit as st

from pairing_dashboard import importing, log_views, parts, session

parts.title("Log", "Every cup. Nothing is deleted: a correction and an undo are kept as revisions.")
bench = session.needed()
cups, correct, load, export = st.tabs(["Cups", "Correct", "Import", "Export"])
with cups:
    log_views.cups(bench)
with correct:
    log_views.correct(bench)
with load:
    importing.show(bench)
with export:
    log_views.export(bench)
session.watch(bench)
