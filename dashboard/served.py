"""The pages of ``app.py`` behind the door: what ``pairing dashboard`` serves."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from pathlib import Path

import segno
from starlette.middleware import Middleware
from streamlit.starlette import App

from pairing_dashboard.background import begun
from pairing_dashboard.door import Door, settings_of

PAGES_NEED = (
    "pairing_dashboard.navigation",
    "pairing_dashboard.suggestion_cards",
    "pairing.bench",
    "pairing.learned.stored",
)

if sys.stdout.isatty() and (url := os.environ.get("PAIRING_PHONES_URL")):
    segno.make(url, micro=False).terminal(compact=True)  # a QR code, ISO/IEC 18004

app = App(Path(__file__).with_name("app.py"), middleware=[Middleware(Door, **settings_of(os.environ))])
begun("what pages need", lambda: [import_module(name) for name in PAGES_NEED])  # while a browser loads the first
