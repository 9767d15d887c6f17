"""Write a part of the demo's tables as people really keep them: for the README's walk and for the tests of the import.

The same values as in the tidy tables, in three untidy files: semicolons and decimal commas after a byte-order mark, a
spreadsheet with units in its cells and columns in another order, and a log with two ways of writing dates, blank lines,
a row that is there twice, and three rows that cannot be right.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

BASES = ("oat", "barley")
FLAVOURINGS = ("sour-plum", "quince", "cucumber", "lime-leaf", "elderflower", "cardamom", "ginger", "vanilla", "date")
WRONG = (
    {"Flavouring_ID": "ginger", "strength": "7"},
    {"Flavouring_ID": "ginger", "Base_ID": "oatt"},
    {"Flavouring_ID": "quince", "Amount": "a good splash"},
)
"""What is wrong with the log's last three rows, each a copy of the row before them."""


def read(path: Path) -> list[dict[str, str]]:
    """Read a tidy table."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write_untidy(source: Path, folder: Path) -> None:
    """Write ``bases.csv``, ``flavourings.xlsx`` and ``log.csv`` from the tidy tables in ``source``."""
    folder.mkdir(exist_ok=True)
    write_bases([row for row in read(source / "bases.csv") if row["base_id"] in BASES], folder / "bases.csv")
    write_flavourings(
        [row for row in read(source / "flavourings.csv") if row["flavouring_id"] in FLAVOURINGS],
        folder / "flavourings.xlsx",
    )
    write_log(read(source / "readings.csv"), folder / "log.csv")


def write_bases(rows: Sequence[Mapping[str, str]], path: Path) -> None:
    """Semicolons, decimal commas, a byte-order mark, other case and order, blank lines."""
    names = [name for name in rows[0] if name not in ("lot", "viscosity_mpa_s")]
    titles = [name.upper() if name.endswith("_id") else name.capitalize() for name in reversed(names)]
    lines = [";".join(titles)]
    for row in rows:
        cells = [
            row[name].replace(";", "|") if name == "tags" else row[name].replace(".", ",") for name in reversed(names)
        ]
        lines += ["", ";".join(cells).replace("|", ",")]
    path.write_text("\ufeff" + "\r\n".join(lines) + "\r\n\r\n", encoding="utf-8", newline="")


def write_flavourings(rows: Sequence[Mapping[str, str]], path: Path) -> None:
    """Write a spreadsheet with units in cells, an energy as labels print it, and one flavouring without a direction."""
    from openpyxl import Workbook

    book = Workbook()
    book.properties.created = book.properties.modified = dt.datetime(2025, 3, 1)
    sheet = book.active
    assert sheet is not None
    sheet.title = "shelf"
    names = [name for name in rows[0] if name != "label_dose_g_per_kg"]
    sheet.append([name.replace("_", " ") if name == "label_dose" else name for name in names])
    for row in rows:
        cells: list[str | float | None] = [_cell(row[name]) for name in names]
        if row["drop_mg"]:
            cells[names.index("drop_mg")] = f"{row['drop_mg']} mg"
        if row["flavouring_id"] == "ginger":
            cells[names.index("energy_kcal_per_g")] = "28 kcal per 12.5 g"
        if row["flavouring_id"] == "date":
            cells[names.index("cost_per_g")] = "0,011"
        sheet.append(cells)
    sheet.append(["river-mint", "River mint, label lost"])
    book.save(path)


def _cell(text: str) -> str | float | None:
    try:
        return float(text)
    except ValueError:
        return text or None


def write_log(rows: Sequence[Mapping[str, str]], path: Path) -> None:
    """Two ways of writing dates, units in cells, a row that is there twice, and the rows of ``WRONG``."""
    kept: dict[str, list[Mapping[str, str]]] = {}
    for row in rows:
        kept.setdefault(row["trial_id"], []).append(row)
    cups = [
        cup
        for cup in kept.values()
        if cup[0]["base_id"] in BASES and {row["flavouring_id"] for row in cup} <= {*FLAVOURINGS, ""}
    ]
    columns = ("tasted_at", "Trial_ID", "Base_ID", "Flavouring_ID", "Amount", "base_g", "reading", "Taster", "strength",
               "liking", "off_notes", "stepped", "ended")  # fmt: skip
    lines = []
    for number, cup in enumerate(cups):
        for row in cup:
            line = {name: row[name.lower()] for name in columns} | {"base_g": f"{row['base_g']} g"}
            if number % 2:
                line["tasted_at"] = f"{dt.datetime.fromisoformat(row['tasted_at']):%d.%m.%Y %H:%M}"
            lines.append(line)
    lines.append(lines[-1])
    lines += [lines[-1] | {"Trial_ID": f"x{i + 1}"} | wrong for i, wrong in enumerate(WRONG)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        for i, line in enumerate(lines):
            file.write("\n" if i % 40 == 39 else "")
            writer.writerow(line)
