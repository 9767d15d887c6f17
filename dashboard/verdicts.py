"""The last verdict on the predictions, kept in the bench: a new process shows it before it judges anew."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pairing_dashboard import parts

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned

__all__ = ["Verdict", "keep", "kept", "made"]

BLOB = "dashboard/verdict"
SPLIT = "new combinations"
"""The way of holding out that is nearest to what is asked of it: what was never tried."""


@dataclass(frozen=True)
class Verdict:
    """What the predictions were worth.

    Attributes
    ----------
    key : str
        State of the bench that was judged.
    at : str
        ISO time.
    sentences : sequence of str
    calibration : sequence of mapping
        ``predicted, came, cups`` by group.
    rows : sequence of (str, str)
        What, and how far off.
    """

    key: str
    at: str
    sentences: Sequence[str]
    calibration: Sequence[Mapping[str, Any]]
    rows: Sequence[Sequence[str]]


def made(model: Learned, key: str, progress: Callable[[float], object]) -> Verdict:
    """Judge a model on combinations that it had not seen."""
    from pairing.learned.evaluate import evaluate

    found = evaluate(model, [SPLIT], progress=progress)
    groups = [
        {"predicted": r.predicted, "came": r.observed, "cups": int(r.cups)} for r in parts.rows(found.calibration)
    ]
    liking, dose = found.table.iloc[0], next(parts.rows(found.doses), None)
    rows = [(f"liking, {name}", f"{liking[column]:.1f} points") for name, column in GUESSES.items()]
    rows.append(("80 % intervals that held the liking", f"{100 * liking['coverage']:.0f} %"))
    if dose is not None:
        rows += [("needed dose, this tool", _as_share(dose.model)), ("needed dose, the label", _as_share(dose.label))]
    return Verdict(key, datetime.now(UTC).isoformat(timespec="seconds"), found.sentences, groups, rows)


GUESSES = {"this tool": "model", "the average": "average", "the flavourings' means": "flavouring mean"}
"""Columns of the table of errors that are shown; all of them stand in the other ways of judging."""


def _as_share(log_error: float) -> str:
    return f"{100 * math.expm1(log_error):.0f} %"


def keep(bench: Bench, it: Verdict) -> None:
    """Keep a verdict in the bench; one that is read only keeps none."""
    if not bench.read_only:
        bench.store_blob(BLOB, json.dumps(asdict(it)).encode())


def kept(bench: Bench) -> Verdict | None:
    """Return the last verdict; None where there is none that can be read."""
    if (blob := bench.load_blob(BLOB)) is None:
        return None
    try:
        return Verdict(**json.loads(blob))
    except (TypeError, ValueError):
        return None
