"""The pages of ``app.py`` behind the door: what ``pairing dashboard`` serves."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import segno
from starlette.middleware import Middleware
from streamlit.starlette import App

from pairing_dashboard.door import Door, settings_of

if sys.stdout.isatty() and (url := os.environ.get("PAIRING_PHONES_URL")):
    segno.make(url, micro=False).terminal(compact=True)  # a QR code, ISO/IEC 18004

app = App(Path(__file__).with_name("app.py"), middleware=[Middleware(Door, **settings_of(os.environ))])
