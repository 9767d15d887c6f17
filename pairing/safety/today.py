"""Since when what was drunk counts as today's."""

from __future__ import annotations

from datetime import UTC, datetime

__all__ = ["midnight"]


def midnight() -> str:
    """Return when today began by the clock of this machine, ISO 8601 in UTC: what was swallowed since is today's."""
    begun = datetime.now().astimezone().replace(hour=0, minute=0, second=0, microsecond=0)
    return begun.astimezone(UTC).isoformat()
