"""What was said once and need not be said again until it changes: kept on this machine, by bench."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

__all__ = ["is_news"]


def is_news(place: str, subject: str, lines: Sequence[str]) -> bool:
    """Whether these lines are others than what was said of a bench the last time; from then on they are not.

    Where nothing can be kept, everything is news each time.

    Parameters
    ----------
    place : str
        Folder or URL of the bench.
    subject : str
        What the lines are about.
    lines : sequence of str
    """
    path = _path()
    with contextlib.suppress(OSError, ValueError):
        kept = json.loads(path.read_text("utf-8")) if path.exists() else {}
        key = _digest(f"{Path(place).resolve()}\n{subject}")
        said = _digest("\n".join(lines))
        if isinstance(kept, dict) and kept.get(key) == said:
            return False
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps({**(kept if isinstance(kept, dict) else {}), key: said}), "utf-8")
    return True


def _path() -> Path:
    import platformdirs

    return platformdirs.user_state_path("pairing", appauthor=False) / "told.json"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:24]
