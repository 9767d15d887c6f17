"""Take back the last write. Nothing is erased: the taking back is a new revision, and the history shows both."""

from __future__ import annotations

import argparse

from pairing.cli.common import named, open_bench
from pairing.cli.output import Output


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Undo, or look."""
    parser.add_argument(
        "--history", type=named, metavar="TRIAL", help="change nothing, show all revisions of this trial"
    )


def run(args: argparse.Namespace, out: Output) -> int:
    """Undo the last write, or list what was written about one trial."""
    from pairing.blind.kept import open_checks

    bench = open_bench(args)
    if args.history is not None:
        history = bench.history(args.history)
        columns = [(name, name.replace("_", " ")) for name in ("revision", "revised_at", "author", "action", "table")]
        shown = [column for column in columns if column[0] in history.columns]
        rest = [
            (str(c), str(c)) for c in history.columns if str(c) in ("flavouring_id", "reading", "strength", "liking")
        ]
        out.table("history", history, [*shown, *rest], title=f"History of {args.history}")
        return 0
    undone = bench.undo()
    out.value("undone", undone)
    about = f"{undone.action} of {undone.about}" if undone.about else undone.action
    out.say(f"Taken back: {about} (revision {undone.revision}). It stays in the history; log it again to have it back.")
    if open_checks(bench):
        out.say("Blind checks in hand are as they were: pairing blind back takes back an answer, drop a check.")
    return 0
