"""The pages of ``app.py`` behind the door: what ``pairing dashboard`` serves."""

from __future__ import annotations

import os
from pathlib import Path

from starlette.middleware import Middleware
from streamlit.starlette import App

from pairing_dashboard.door import Door, settings_of

app = App(Path(__file__).with_name("app.py"), middleware=[Middleware(Door, **settings_of(os.environ))])
