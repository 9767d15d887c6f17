"""Load tables into the bench: CSV, XLSX or Parquet, as untidy as they are. Good rows go in, the others come back.

A file whose columns tell which table it is needs no option. The exit code is 1 when a row was refused; the good rows
are in all the same, and loading a corrected file again adds only what is new.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import open_bench, whole
from pairing.cli.output import Output
from pairing.errors import TableError, first_few
from pairing.model.columns import TABLES
from pairing.store.headings import match_headings, missing_columns, plain_heading
from pairing.store.notes import in_short
from pairing.store.sheets import sheet_names

if TYPE_CHECKING:
    from pairing.store.load_report import LoadReport

_MARKS = (
    ("steps", {"trial_id", "kind"}),
    ("readings", {"trial_id", "base_id"}),
    ("comparisons", {"check_id"}),
    ("weighings", {"item_id", "lot", "gross_g"}),
    ("lots", {"item_id", "lot"}),
    ("recipes", {"recipe_id", "doses"}),
    ("photos", {"photo_id"}),
    ("calibrations", {"flavouring_id", "drops", "grams"}),
    ("flavourings", {"flavouring_id", "name"}),
    ("bases", {"base_id", "name"}),
    ("targets", {"target_id", "name"}),
    ("tasters", {"taster"}),
)
"""Columns that tell which table a file is, tried in this order."""
_SHOWN = 8
_NEAR = 3
"""So many columns of a table tell that a file is meant for it (our choice)."""


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
        "--liking-scale", type=whole, default=9, metavar="N", help="highest score of the liking scale used (9)"
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
        out.table("refused", report.refused, [*shown, ("remedy", "what to do")], title="Refused rows")
    else:
        out.value("refused", [])


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
        return {table_of(file): file}
    parts = {}
    for name in frame["table"].unique():
        part = frame[frame["table"] == name]
        others = [
            c for c in frame.columns if c not in (*TABLES[name].names, *REFUSED_COLUMNS) and (part[c] == "").all()
        ]
        parts[name] = part.drop(columns=others)
    return parts


def _fits(name: str, marks: set[str], found: Mapping[str, Any]) -> bool:
    """Tell whether a table's marks are there; an id that is lacking is made from the name."""
    return marks - found.keys() <= {TABLES[name].key[0]} if "name" in marks & found.keys() else marks <= found.keys()


def is_export(file: str) -> bool:
    """Tell whether a path is a folder, or a workbook with a sheet per table."""
    path = Path(file)
    if path.suffix.casefold() != ".xlsx" or not path.exists():
        return path.is_dir()

    return bool(set(sheet_names(path)) & set(TABLES))


def table_of(file: str) -> str:
    """Tell from its columns which table a file is.

    Raises
    ------
    TableError
        When the columns fit no table.
    """
    from pairing.store.exchange import read

    headings: list[Any] = list(read(Path(file)).columns)
    columns = {str(c).strip().casefold().replace(" ", "_"): None for c in headings}
    for name, marks in _MARKS:
        if marks <= columns.keys():
            return name
    found = {name: match_headings(TABLES[name], headings)[0] for name, _ in _MARKS}
    known = {name: len(found[name]) for name, marks in _MARKS if _fits(name, marks, found[name])}
    best = [name for name, n in known.items() if n == max(known.values())]
    if len(best) > 1:
        called = [name for name in best if name.removesuffix("s") in plain_heading(Path(file).stem).split("_")]
        best = called or [name for name in best if name in plain_heading(Path(file).stem).split("_")] or best
    if len(best) == 1:
        return best[0]
    if best:
        raise TableError(
            f"{file} may be {' or '.join(best)}: its columns ({', '.join(map(str, headings[:_SHOWN]))}) fit them alike",
            f"say which, as in --{best[0]} {file}, or name its first column, as in {TABLES[best[0]].key[0]}",
        )
    named = [c for c in columns if not re.fullmatch(r"column_\d+", c)]
    if len(named) <= len(columns) / 2:
        raise TableError(
            f"the first row of {file} names {len(named)} of {len(columns)} columns: {', '.join(named) or 'none'}",
            "delete the rows above the one with the column names, such as flavouring_id",
        )
    nearest = max(found, key=lambda name: len(found[name]))
    if len(found[nearest]) >= _NEAR:
        lacks = ", ".join(missing_columns(TABLES[nearest], found[nearest]))
        raise TableError(
            f"{file} comes nearest to {nearest} by its {first_few(found[nearest])}, and lacks: {lacks}",
            f"give it these columns, or name another table, as in --bases {file}",
        )
    raise TableError(
        f"the columns of {file} fit no table: {', '.join([*columns][:_SHOWN])}",
        f"give the columns their names, such as base_id, or name the table, as in --readings {file}",
    )
