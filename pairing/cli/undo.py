"""Take back the last write, or an older cup. Nothing is erased: the taking back is a new revision beside it."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from pairing.blind.in_hand import open_checks
from pairing.cli.common import named, open_bench
from pairing.cli.output import Output
from pairing.cli.trials import LAST, short, trial_named
from pairing.errors import StoreError
from pairing.model.columns import STRENGTH_WORDS, TABLES
from pairing.model.shelf import Shelf

if TYPE_CHECKING:
    from pairing.bench import Bench


_ENDED = {
    "right": "the cup ended just right",
    "too strong": "the cup ended too strong",
    "not reached": "the cup ended before it was right",
    "spoiled": "the cup was spoiled",
    "unfinished": "the cup was left unfinished",
}
"""What the column ``ended`` says, in words."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Undo, or look."""
    about = f"take back this cup instead of the last write (the beginning of its id, or {LAST})"
    parser.add_argument("trial", nargs="?", type=named, metavar="TRIAL", help=about)
    about = "change nothing, show all that was written of this trial"
    parser.add_argument("--history", type=named, metavar="TRIAL", help=about)


def run(args: argparse.Namespace, out: Output) -> int:
    """Undo a write, or list what was written about one trial."""
    bench = open_bench(args)
    if args.history is not None:
        return _show(bench, trial_named(bench, args.history), out)
    undone = bench.undo(None if args.trial is None else _revision_of(bench, trial_named(bench, args.trial)))
    out.value("undone", undone)
    about = f"{undone.action} of {_shortened(undone.about, bench)}" if undone.about else undone.action
    out.say(f"Taken back: {about} (revision {undone.revision}). It stays in the history; log it again to have it back.")
    if open_checks(bench):
        out.say("Blind checks in hand are as they were: pairing blind back takes back an answer, drop a check.")
    return 0


def _revision_of(bench: Bench, trial_id: str) -> int:
    """Return the last revision that logged a trial and still counts."""
    history = bench.history(trial_id)
    undone = set(bench.history()["undoes"].dropna().astype(int))
    logged = [int(r) for r in history.loc[history["action"] == "log", "revision"].unique() if int(r) not in undone]
    if not logged and (history["action"] == "log").any():
        raise StoreError(
            f"trial {_shortened(trial_id, bench)} is taken back already", "pairing undo --history shows what it was"
        )
    if not logged:
        first = history.iloc[0]
        raise StoreError(
            f"trial {_shortened(trial_id, bench)} came in revision {first['revision']}, a {first['action']}, with more",
            "load a corrected file with --on-conflict revise; only a cup that was logged by itself is taken back alone",
        )
    return logged[-1]


def _show(bench: Bench, trial_id: str, out: Output) -> int:
    """Show what was written of a trial, in the order in which it was: what went in, and what was said."""
    history = bench.history(trial_id)
    shelf = bench.shelf()
    rows: list[dict[str, Any]] = []
    before: dict[Any, Mapping[Any, Any]] = {}
    for row in history.astype(object).where(history.notna(), None).to_dict("records"):
        key = (row["table"], *(row.get(name) for name in TABLES[row["table"]].key))
        rows.append(_told(row, before.get(key), shelf))
        before[key] = row
    columns: list[Any] = [
        ("when", "when, UTC"),
        ("author", "by"),
        ("state", ""),
        ("what", "what"),
        ("amount", "amount"),
        ("dose", "dose, g/kg"),
        ("said", "said"),
    ]
    out.table("history", history, columns, shown=rows, title=f"History of {_shortened(trial_id, bench)}")
    return 0


def _shortened(text: str, bench: Bench) -> str:
    """Write the beginnings of trial ids for the whole of them."""
    return " ".join(short(word, bench.trials) for word in text.split(" "))


def _told(row: Mapping[Any, Any], before: Mapping[Any, Any] | None, shelf: Shelf) -> dict[str, Any]:
    """Tell a row of the history; of one that was changed what it said otherwise, or not, before."""
    item = row.get("item_id") if row["table"] == "steps" else row.get("flavouring_id")
    names = {i: b.name for i, b in shelf.bases.items()} | {i: f.name for i, f in shelf.flavourings.items()}
    name = names.get(str(item), item)
    told = {"when": str(row["revised_at"])[:16].replace("T", " "), "author": row["author"], "state": row["state"]}
    if row["table"] == "steps":
        return told | {"what": " ".join(filter(None, [row["kind"], name])), "amount": row["as_entered"]}
    who = f"{row['taster']} tastes {name or 'it plain'}"
    now, then = _judged(row), {} if before is None or row["state"] != "changed" else _judged(before)
    new = {what: said for what, said in now.items() if said != then.get(what)}
    dose = new.pop("dose", None)
    return told | {"what": who, "amount": new.pop("amount", None), "dose": dose, "said": ", ".join(new.values())}


def _judged(row: Mapping[Any, Any]) -> dict[str, str]:
    """Say in words what a row of readings holds, as far as it holds it."""
    words: dict[str, Callable[[Any], str]] = {
        "amount": str,
        "dose": lambda dose: f"{dose:.3g}",
        "strength": lambda strength: STRENGTH_WORDS[int(strength)],
        "liking": lambda liking: f"liking {liking:g}",
        "off_notes": lambda notes: f"off-notes {notes}",
        "ended": _ENDED.__getitem__,
        "note": lambda note: f"note: {note}",
    }
    held = {what: row["dose_g_per_kg" if what == "dose" else what] for what in words}
    return {what: words[what](value) for what, value in held.items() if value is not None}
