"""The brief that was asked for last stays: in the session for other pages, in the address for a reload."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import streamlit as st

__all__ = ["IN_ADDRESS", "address", "bring", "keep", "kept"]

IN_ADDRESS = "brief"
_KEPT = "brief-kept"


def kept() -> Mapping[str, Any]:
    """Return what is set in the brief by field, as plain values; nothing else is in it."""
    found: Mapping[str, Any] = st.session_state.get(_KEPT, {})
    return found


def address() -> dict[str, str]:
    """Return what the brief adds to the address of a page."""
    return {IN_ADDRESS: _text()} if kept() else {}


def keep(values: Mapping[str, Any]) -> None:
    """Keep what is set in the brief; empty fields are left out."""
    st.session_state[_KEPT] = {field: value for field, value in values.items() if value not in (None, [], ())}
    _write()


def bring() -> None:
    """Carry the brief to whichever page is drawn: a new session reads it from its address, every page gets it there."""
    if _KEPT not in st.session_state:
        st.session_state[_KEPT] = _read(st.query_params.get(IN_ADDRESS, ""))
    _write()


def _read(text: str) -> dict[str, Any]:
    try:
        found = json.loads(text)
        json.dumps(found, ensure_ascii=False).encode()  # half of a character, which JSON may name, cannot be shown
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _text() -> str:
    return json.dumps(kept(), separators=(",", ":")) if kept() else ""


def _write() -> None:
    text = _text()
    if text == st.query_params.get(IN_ADDRESS, ""):
        return
    if text:
        st.query_params[IN_ADDRESS] = text
    else:
        st.query_params.pop(IN_ADDRESS, None)
