"""At the bench: one cup, one question per step, everything saved at every tap."""

import streamlit as st

from pairing_dashboard import begin, pages, session
from pairing_dashboard.cup import page, start

with st.container(key="bench"):
    pages.head("bench")
    bench = begin.needed()
    pages.stand_by_address("bench", *start.ADDRESS)
    draft_id = session.cup_id()
    draft = None if draft_id is None else session.load(bench, draft_id) or start.asked_for(bench, draft_id)
    if draft is None:
        page.choose(bench, draft_id)
    else:
        page.go_on(bench, draft)
        session.watch_cup(bench, draft)
