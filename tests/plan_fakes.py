"""The strength response that planning tests use: what `simulated` palates say, without noise of their own."""

from __future__ import annotations

from types import SimpleNamespace

RESPONSE = SimpleNamespace(thresholds=(-1.5, -0.75, -0.22, 0.22, 0.7), scale=0.22, stepped=0.0)
