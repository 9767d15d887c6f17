"""Doses: strength against dose, what each base does to it, and the needed dose of everything."""

import streamlit as st

from pairing_dashboard import begin, dose_views, pages, session

pages.head("doses")
bench = begin.needed()
model = session.model(bench)
one, bases, table = st.tabs(["One flavouring", "Bases", "All needed doses"])
with one:
    dose_views.one(bench, model)
with bases:
    dose_views.bases(model)
with table:
    dose_views.everything(model)
session.watch(bench)
