"""Shelf: bases, flavourings and tasters; add, correct, import, calibrate drops."""

import streamlit as st

from pairing_dashboard import begin, calibration_form, importing, pages, shelf_form

pages.head("shelf")
bench = begin.needed()
flavourings, bases, tasters, drops, load = st.tabs(["Flavourings", "Bases", "Tasters", "Drop calibration", "Import"])
with flavourings:
    shelf_form.show(bench, "flavourings")
with bases:
    shelf_form.show(bench, "bases")
with tasters:
    shelf_form.show(bench, "tasters")
with drops:
    calibration_form.show(bench)
with load:
    importing.show(bench)
