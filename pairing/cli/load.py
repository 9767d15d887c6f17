"""Load tables into the bench: CSV, XLSX or Parquet, as untidy as they are. Good rows go in, the others come back.

A file whose columns tell which table it is needs no option. The exit code is 1 when a row was refused; the good rows
are in all the same, and loading a corrected file again adds only what is new.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import open_bench, whole
from pairing.cli.output import Output
from pairing.errors import TableError
from pairing.model.columns import TABLES
from pairing.store.notes import in_short
from pairing.store.placing import table_of
from pairing.store.sheets import sheet_names

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.load_report import LoadReport


_SHOWN = 40
"""So many lines of refused rows fit what anybody reads (our choice)."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Files, by position or by table."""
    about = "files whose columns tell which table they are; or one folder or workbook that pairing export wrote"
    parser.add_argument("files", nargs="*", metavar="FILE", help=about)
    for name in TABLES:
        parser.add_argument(f"--{name}", metavar="FILE", help=f"a file with the {name} table")
    parser.add_argument(
        "--on-conflict",
        choices=("refuse", "revise"),
        default="refuse",
        help="what to do with a row that is kept with other content (refuse)",
    )
    parser.add_argument(
        "--liking-scale", type=whole, default=9, metavar="N", help="highest score of the liking scale used, 2 to 10 (9)"
    )
    about = (
        "what every empty food_use of these flavourings stands for: yes after reading the labels; only yes is suggested"
    )
    parser.add_argument("--food-use", choices=("yes", "no", "unknown"), help=about)
    parser.add_argument(
        "--refused", metavar="FILE", help="write refused rows to this CSV file, to correct and load again"
    )


def run(args: argparse.Namespace, out: Output) -> int:
    """Load everything in one go, so that a log finds the bases and flavourings beside it."""
    bench = open_bench(args)
    tables: dict[str, Any] = {name: getattr(args, name) for name in TABLES if getattr(args, name)}
    whole = args.files[0] if len(args.files) == 1 and is_export(args.files[0]) else None
    files = {name: tables[name] for name in tables}
    faults: list[TableError] = []
    for file in () if whole else args.files:
        read = bench.plugged.read(file)
        try:
            found = _tables_in(file) if read is None else read
        except TableError as error:
            faults.append(error)
            continue
        for name, table in found.items():
            if name in tables:
                faults.append(TableError(f"{files[name]} and {file} are both {name}", "load them one after the other"))
            else:
                tables[name], files[name] = table, file
    if faults:
        raise _refused(faults, files)
    if not tables and not whole:
        raise TableError("no file was given", "pairing load bases.csv flavourings.xlsx readings.csv")
    with out.progress("Loading"):
        how = {"on_conflict": args.on_conflict, "liking_scale": args.liking_scale, "food_use": args.food_use}
        report = bench.load(whole, **tables, **how)
    tell(report, out)
    if args.refused and len(report.refused):
        from pairing.store.again import to_load_again

        to_load_again(report.refused, report.decimal_comma).to_csv(args.refused, index=False)
        out.say(f"The refused rows are in {args.refused}: correct them there and load that file.")
    elif len(report.refused):
        out.say(
            "Correct them where they are and load the file again: only what is new is added. Or take them out alone"
        )
        out.say("with --refused FILE, correct them there and load that file.")
    return 1 if len(report.refused) else 0


def tell(report: LoadReport, out: Output) -> None:
    """Say what went in, what was there already and what came back."""
    refused: Any = report.refused["table"].value_counts() if len(report.refused) else {}
    counts = [
        {
            "table": name,
            "accepted": n,
            "revised": report.revised.get(name, 0),
            "known": report.skipped.get(name, 0),
            "refused": int(refused.get(name, 0)),
        }
        for name, n in report.accepted.items()
    ]
    columns = [("table", "table"), ("accepted", "rows taken"), ("known", "already known"), ("refused", "refused")]
    if report.revised:
        columns.insert(2, ("revised", "corrected"))
    out.table("tables", counts, columns)
    out.value("notes", list(report.notes))
    for note in in_short(report.notes):
        out.say(f"Note: {note}")
    shown = [("table", "table"), ("row", "row"), ("column", "column"), ("value", "value"), ("reason", "reason")]
    if len(report.refused):
        columns, rows = [*shown, ("remedy", "what to do")], _alike(report.refused)
        out.table("refused", report.refused, columns, shown=rows[:_SHOWN], title="Refused rows")
        if len(rows) > _SHOWN:
            out.say(f"And {len(rows) - _SHOWN} more lines like these: --refused FILE writes them all.")
    else:
        out.value("refused", [])


def _alike(refused: pd.DataFrame) -> list[dict[Any, Any]]:
    """Return the refused rows, those that are alike but for their number as one, on one line each."""
    from pairing.store.problems import REFUSED_COLUMNS

    groups: dict[tuple[str, ...], list[dict[Any, Any]]] = {}
    for record in refused[list(REFUSED_COLUMNS)].to_dict("records"):
        groups.setdefault(tuple(str(record[name]) for name in REFUSED_COLUMNS if name != "row"), []).append(record)
    rows = (
        (first, f" and {len(more)} more".replace(" ", "\u00a0") if more else "") for first, *more in groups.values()
    )
    return [{**first, "row": f"{first['row']}{others}"} for first, others in rows]


def _refused(faults: list[TableError], files: Mapping[str, Any]) -> TableError:
    """Say at once which files cannot be placed, and what became of the others: nothing is loaded."""
    hints = dict.fromkeys(fault.hint for fault in faults)
    others = ", ".join(f"{file} is {name}" for name, file in files.items())
    rest = f"; nothing is loaded yet: {others}, and waits for it" if others else ""
    return TableError("; ".join(fault.message for fault in faults) + rest, "; ".join(hints))


def _tables_in(file: str) -> dict[str, Any]:
    """Return the table of a file; of one that holds refused rows, each of its tables."""
    from pairing.store.problems import REFUSED_COLUMNS
    from pairing.store.sources import read

    frame = read(Path(file))
    if not set(REFUSED_COLUMNS) <= set(map(str, frame.columns)) or not set(frame["table"]) <= set(TABLES):
        return {table_of(file, list(frame.columns)): file}
    parts = {}
    for name in frame["table"].unique():
        part = frame[frame["table"] == name]
        others = [
            c for c in frame.columns if c not in (*TABLES[name].names, *REFUSED_COLUMNS) and (part[c] == "").all()
        ]
        parts[name] = part.drop(columns=others)
    return parts


def is_export(file: str) -> bool:
    """Tell whether a path is a folder, or a workbook with a sheet per table."""
    path = Path(file)
    if path.suffix.casefold() != ".xlsx" or not path.exists():
        return path.is_dir()

    return bool(set(sheet_names(path)) & set(TABLES))
