"""The dashboard's entry: ``streamlit run dashboard/app.py``, or ``pairing dashboard``."""

from pathlib import Path

import streamlit as st

from pairing.errors import PairingError
from pairing_dashboard import brief_kept, navigation, parts, people

ICON = Path(__file__).with_name("static") / "icon.png"  # an icon by name would be fetched from elsewhere
SIDE = 240
"""Width of the list of pages, px."""

st.set_page_config(page_title="Flavour bench", layout="wide", initial_sidebar_state=SIDE)
parts.style()
people.let_in()
brief_kept.bring()
try:
    parts.say_who_can_reach_this()
    navigation.show()
except PairingError as error:
    parts.problem(error)
finally:
    st.set_page_config(page_icon=str(ICON))  # loads what draws images: the title does not wait for it
