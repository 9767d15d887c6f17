"""Next cups: what is worth trying, and why; the brief beside it."""

import streamlit as st

from pairing_dashboard import brief_form, parts, session, suggestion_cards

parts.title("Next cups", "What is worth trying next, with dose, energy, cost and reasons.")
bench = session.needed()
cards, beside = st.columns([2.6, 1], gap="large")
with beside:
    brief = brief_form.ask(session.shelf(bench))
with cards:
    suggestion_cards.show(bench, brief)
session.watch(bench)
session.model(bench)  # ready before a cup is started; the page is drawn by now
