"""A countdown for a rest or after the swallow: it runs in the browser, from the moment at which the rest began."""

from __future__ import annotations

import json
from datetime import datetime

import streamlit as st

__all__ = ["show"]

_component = st.components.v2.component(
    "rest_timer",
    html='<p class="timer" role="timer"></p>',
    css=".timer { margin: 0; font: 700 2rem var(--st-font); color: var(--st-text-color); "
    "font-variant-numeric: tabular-nums; } .timer.over { color: var(--st-primary-color); }",
    js="""
export default function (component) {
  const raw = component.data, text = typeof raw === "string" ? raw : new TextDecoder().decode(raw);
  const { since, seconds, over } = JSON.parse(text), at = component.parentElement.querySelector(".timer");
  const tick = () => {
    const left = Math.max(0, Math.ceil(seconds - (Date.now() - since) / 1000));
    at.textContent = left ? `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}` : over;
    at.classList.toggle("over", !left);
    if (!left) { clearInterval(run); if (Date.now() - since < 1000 * (seconds + 2)) navigator.vibrate?.(300); }
  };
  const run = setInterval(tick, 500);
  tick();
  return () => clearInterval(run);
}
""",
)


def show(since: str, seconds: float, key: str, over: str = "Time to sip") -> None:
    """Count down from an ISO time for so many seconds, and say at the end what it is time for."""
    begun = datetime.fromisoformat(since).timestamp() * 1000
    _component(data=json.dumps({"since": begun, "seconds": seconds, "over": over}).encode(), key=key)
