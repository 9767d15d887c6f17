import io
import zipfile

import openpyxl
import pandas as pd
import pytest

from pairing.errors import TableError
from pairing.store.exchange import clean
from pairing.store.sources import read
from pairing.testing.counting import steps

HEAD = "trial_id,base_id,flavouring_id,dose_g_per_kg,liking,note\n"


def write(path, text, encoding="utf-8"):
    path.write_bytes(text.encode(encoding))
    return path


def workbook(path, **sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


@pytest.mark.parametrize(
    ("delimiter", "comma", "encoding"),
    [(",", False, "utf-8"), (";", True, "utf-8-sig"), ("\t", True, "utf-16"), ("|", False, "cp1252")],
)
def test_one_log_in_many_dresses(tmp_path, delimiter, comma, encoding):
    lines = [
        ["Trial ID", "BASE ID", "flavor", "Dose (g/kg)", "Score", "comment"],
        ["t1", "oat", "quince", "1.25", "7", "crème"],
        ["", "", "", "", "", ""],
        ["t2", "soy", "quince", "2.5", "5", ""],
    ]
    if comma:
        lines = [[c.replace(".", ",") for c in row] for row in lines]
    text = "\r\n".join(delimiter.join(row) for row in lines) + "\r\n\r\n"
    cleaned = clean("readings", write(tmp_path / "log.csv", text, encoding))
    assert cleaned.refused.empty
    assert cleaned.table["dose_g_per_kg"].tolist() == [1.25, 2.5]
    assert cleaned.table["note"].tolist() == ["crème", None]
    assert cleaned.rows.tolist() == [2, 4]
    assert any("Windows-1252" in n for n in cleaned.notes) == (encoding == "cp1252")


def test_refused_rows_carry_the_row_of_the_file(tmp_path):
    path = write(tmp_path / "log.csv", "\n" + HEAD + "t1,oat,q,1,7,\n\nt2,oat,q,1,12,\n")
    assert clean("readings", path).refused["row"].tolist() == [5]


def test_rows_with_too_many_cells_come_back_whole(tmp_path):
    path = write(tmp_path / "log.csv", HEAD + "t1,oat,q,1,5,7,\nt2,oat,q,1.5,7,\nt3,oat,q\n")
    cleaned = clean("readings", path)
    assert cleaned.table["trial_id"].tolist() == ["t2"]
    assert cleaned.refused["row"].tolist() == [2, 4]
    first = cleaned.refused.iloc[0]
    assert first["value"] == "t1,oat,q,1,5,7,"
    assert "7 cells, the heading has 6" in first["reason"]
    assert "quotes" in first["remedy"]


@pytest.mark.parametrize("end", ["", 't5,oat,q,5,7,"fine"\n'])
def test_a_stray_quote_does_not_swallow_the_rows_below(tmp_path, end):
    rows = 't1,oat,q,1,7,\nt2,oat,q,2,7,"so\nt3,oat,q,3,7,\nt4,oat,q,4,7,\n'
    cleaned = clean("readings", write(tmp_path / "log.csv", HEAD + rows + end))
    assert cleaned.table["trial_id"].tolist() == ["t1"]
    (refused,) = cleaned.refused.to_dict("records")
    assert (refused["row"], refused["column"]) == (3, "note")
    assert "t4,oat,q,4,7," in refused["value"]
    assert "not closed" in refused["reason"]
    assert "quote" in refused["remedy"]


def test_rows_after_a_swallowed_one_go_in(tmp_path):
    rows = 't1,oat,q,1,7,"so\nt2,oat,q,2,7,""\nt3,oat,q,3,7,"\nt4,oat,q,4,7,\n'
    assert clean("readings", write(tmp_path / "log.csv", HEAD + rows)).table["trial_id"].tolist() == ["t4"]


def test_a_long_note_is_no_swallowed_row(tmp_path):
    note = '"round,\nsoft, warm, sweet, full, long, deep\r\n\nand; so; on"'
    cleaned = clean("readings", write(tmp_path / "log.csv", HEAD + f"t1,oat,q,1,7,{note}\nt2,oat,q,2,7,\n"))
    assert cleaned.refused.empty
    assert cleaned.table["note"][0].startswith("round,\nsoft")


@pytest.mark.parametrize("note", ["1,5 g sugar", "0,5 ml, then 1,5 ml", "hot,with milk"])
def test_a_note_of_several_lines_in_a_narrow_table_is_no_swallowed_row(tmp_path, note):
    path = write(tmp_path / "targets.csv", f'target_id,name\nt1,"Tea with\n{note}"\nt2,Cocoa\n')
    cleaned = clean("targets", path)
    assert cleaned.refused.empty
    assert cleaned.table["name"].tolist() == [f"Tea with\n{note}", "Cocoa"]


@pytest.mark.parametrize("end", ["", 't4,"Milk"\n'])
def test_a_stray_quote_in_a_narrow_table_is_found(tmp_path, end):
    path = write(tmp_path / "targets.csv", f'target_id,name\nt1,Tea\nt2,"Cocoa\nt3,Malt\n{end}')
    cleaned = clean("targets", path)
    assert cleaned.table["target_id"].tolist() == ["t1"]
    assert "not closed" in cleaned.refused["reason"][0]


def test_a_cell_with_many_commas_is_looked_through_once(tmp_path):
    wide, taken = [f"more {n}" for n in range(34)], []
    for commas in (4, 8, 32):
        note = "so\n" + "a," * commas
        heading, row = HEAD.strip() + "," + ",".join(wide), f't1,oat,q,1,7,"{note}"' + "," * len(wide)
        path = write(tmp_path / "log.csv", f"{heading}\n{row}\n")
        assert clean("readings", path).table["note"].tolist() == [note]
        taken.append(steps(lambda path=path: clean("readings", path)))
    assert max(taken) <= 1.1 * min(taken)


def test_quoted_cells_and_line_breaks_are_kept(tmp_path):
    path = write(tmp_path / "log.csv", HEAD + 't1,oat,q,"1,5",7,"first, then\nsecond ""third"""\n')
    row = clean("readings", path).table.iloc[0]
    assert row["note"] == 'first, then\nsecond "third"'
    assert row["dose_g_per_kg"] == 1.5


def test_headings_that_are_repeated_further_down_are_passed_over(tmp_path):
    path = write(tmp_path / "log.csv", HEAD + "t1,oat,q,1,7,\n" + HEAD + "t2,oat,q,1,7,\n")
    cleaned = clean("readings", path)
    assert (len(cleaned.table), len(cleaned.refused)) == (2, 0)


def test_a_declared_delimiter_and_twice_the_same_heading(tmp_path):
    path = write(tmp_path / "b.csv", "sep=|\nbase_id|name|name|\noat|Oat|again|\n")
    cleaned = clean("bases", path)
    assert cleaned.table["name"].tolist() == ["Oat"]
    assert any("'name (2)' is not used" in n for n in cleaned.notes)


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("empty.csv", b"", "is empty"),
        ("blank.csv", b"\n\n;;\n", "is empty"),
        ("picture.csv", b"\x89PNG\x00\x00", "not a text file"),
        ("book.csv", b"PK\x03\x04rest", "not a text file"),
        ("book.xlsx", b"no zip", "is no workbook"),
        ("log.parquet", b"no parquet", "no readable Parquet"),
        ("log.pdf", b"%PDF", "no table that can be read"),
    ],
)
def test_files_that_are_no_tables(tmp_path, name, content, message):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(TableError, match=message) as caught:
        read(tmp_path / name)
    assert caught.value.hint


def test_a_missing_file_names_the_nearest(tmp_path):
    write(tmp_path / "readings.csv", HEAD)
    with pytest.raises(TableError, match=r"did you mean readings\.csv"):
        read(tmp_path / "reading.csv")
    write(tmp_path / "diary.docx", HEAD)
    with pytest.raises(TableError, match=r"there is no file .*mmm — known are: readings\.csv$"):
        read(tmp_path / "mmm")
    with pytest.raises(TableError, match="is a folder"):
        read(tmp_path)
    with pytest.raises(TableError, match="a int is no table"):
        read(3)


def test_parquet_and_records(tmp_path):
    frame = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "fat_g_per_100g": [1.5]})
    frame.to_parquet(tmp_path / "b.parquet")
    for source in (tmp_path / "b.parquet", frame.to_dict("records"), frame.to_dict("list")):
        assert clean("bases", source).table["fat_g_per_100g"].tolist() == [1.5]


def test_odd_frames_and_records():
    twice = pd.DataFrame([["oat", "Oat", "again"]], columns=["base_id", "name", "name"], index=["first"])
    cleaned = clean("bases", twice)
    assert cleaned.table["name"].tolist() == ["Oat"]
    assert cleaned.rows.tolist() == ["first"]
    with pytest.raises(TableError, match="that is no table"):
        read({"base_id": "oat", "name": "Oat"})


def test_a_workbook_with_dates_numbers_and_ids(tmp_path):
    rows = [
        [None, None, None, None, None],
        ["Trial", "Base", "Flavouring", "Dose (g/kg)", "Date"],
        [168, "oat", "quince", 1.5, pd.Timestamp("2026-05-03 14:30")],
        [None, None, None, None, None],
        ["t2", "oat", "quince", "0,5 %", "3.5.2026"],
    ]
    cleaned = clean("readings", workbook(tmp_path / "log.xlsx", Sheet1=rows))
    assert cleaned.refused.empty
    assert cleaned.table["trial_id"].tolist() == ["168", "t2"]
    assert cleaned.table["dose_g_per_kg"].tolist() == [1.5, 5.0]
    assert cleaned.table["tasted_at"].tolist() == ["2026-05-03T14:30:00", "2026-05-03"]
    assert cleaned.rows.tolist() == [3, 5]
    assert any("leading zeros" in n for n in cleaned.notes)


def test_an_id_shown_with_leading_zeros_keeps_them(tmp_path):
    path = workbook(tmp_path / "b.xlsx", bases=[["base_id", "name"], [168, "Oat"]])
    book = openpyxl.load_workbook(path)
    book["bases"]["A2"].number_format = "0000"
    book.save(path)
    assert clean("bases", path).table["base_id"].tolist() == ["0168"]


def test_a_cell_shown_as_per_cent_and_cells_without_a_heading(tmp_path):
    rows = [["trial_id", "base_id", "flavouring_id", "dose_g_per_kg"], ["t", "oat", "quince", 0.005, None, "stray"]]
    path = workbook(tmp_path / "log.xlsx", readings=rows)
    book = openpyxl.load_workbook(path)
    book["readings"]["D2"].number_format = "0.00%"
    book.save(path)
    cleaned = clean("readings", path)
    assert cleaned.table["dose_g_per_kg"].tolist() == [5.0]
    assert any("'column 6' is not used" in n for n in cleaned.notes)


def test_columns_without_heading_and_cells_are_passed_over(tmp_path):
    cleaned = clean("bases", write(tmp_path / "b.csv", "base_id,name,\noat,Oat,\n"))
    assert cleaned.notes == ()


def test_the_sheet_named_like_the_table_is_read(tmp_path):
    rows = [["base_id", "name"], ["oat", "Oat"]]
    path = workbook(tmp_path / "k.xlsx", notes=[["hello"]], bases=rows)
    assert clean("bases", path).table["base_id"].tolist() == ["oat"]
    other = workbook(tmp_path / "o.xlsx", empty=[], first=rows, second=[["x"]])
    cleaned = clean("bases", other)
    assert cleaned.table["base_id"].tolist() == ["oat"]
    assert "o.xlsx: sheet 'first' is read" in cleaned.notes
    with pytest.raises(TableError, match="no sheet with cells"):
        read(workbook(tmp_path / "e.xlsx", a=[], b=[]))


def test_a_formula_counts_with_its_stored_value_or_is_refused(tmp_path):
    # a spreadsheet program stores values beside formulas; the writing library stores none
    path = workbook(tmp_path / "b.xlsx", bases=[["base_id", "name", "fat_g_per_100g"], ["oat", "Oat", "=1+0.5"]])
    refused = clean("bases", path).refused
    assert refused["column"].tolist() == ["fat_g_per_100g"]
    stored = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(stored, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"<v />", b"<v>1.5</v>").replace(b"<v></v>", b"<v>1.5</v>"))
    path.write_bytes(stored.getvalue())
    cleaned = clean("bases", path)
    assert cleaned.table["fat_g_per_100g"].tolist() == [1.5]
    assert "b.xlsx: formulas count with their stored value" in cleaned.notes


def test_a_workbook_with_an_entity_bomb_is_refused(tmp_path):
    path = workbook(tmp_path / "bomb.xlsx", bases=[["base_id", "name"], ["oat", "Oat"]])
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>'
    out = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            body = old.read(name)
            new.writestr(name, bomb + body.partition(b"?>")[2] if name == "xl/workbook.xml" else body)
    path.write_bytes(out.getvalue())
    with pytest.raises(TableError, match=r"bomb\.xlsx"):
        read(path)


def test_a_workbook_that_unpacks_to_gigabytes_is_refused(tmp_path):
    path = tmp_path / "zeros.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"0" * (1 << 27))
    with pytest.raises(TableError, match="unpacks to 134 MB"):
        read(path)


def test_titles_above_the_column_names_are_passed_over_in_a_workbook(tmp_path):
    rows = [["Stock of spring"], [], ["kitchen", "first floor"], ["base_id", "name", "ph"], ["oat", "Oat", 99]]
    cleaned = clean("bases", workbook(tmp_path / "b.xlsx", bases=rows))
    assert cleaned.refused["row"].tolist() == [5]
    said = "b.xlsx: above the column names, 'Stock of spring', 'kitchen', 'first floor' is not read"
    assert cleaned.notes == (said,)


@pytest.mark.parametrize(("epoch", "days"), [("WINDOWS_EPOCH", 46145), ("MAC_EPOCH", 46145 - 1462)])
def test_a_day_that_a_workbook_keeps_as_a_number_is_a_date(tmp_path, epoch, days):
    # published: ECMA-376 Part 1, 18.17.4.1: both date systems, 1462 days apart; openpyxl counts the same
    rows = [["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "tasted_at"]]
    rows += [["t", "oat", "fig", 1, days], ["u", "oat", "fig", 1, days + 0.604166667], ["v", "oat", "fig", 1, 2026]]
    path = workbook(tmp_path / "log.xlsx", readings=rows)
    book = openpyxl.load_workbook(path)
    book.epoch = getattr(openpyxl.utils.datetime, epoch)
    book.save(path)
    cleaned = clean("readings", path)
    assert openpyxl.utils.datetime.from_excel(days, book.epoch).isoformat() == "2026-05-03T00:00:00"
    assert cleaned.table["tasted_at"].tolist() == ["2026-05-03", "2026-05-03T14:30:00"]
    assert cleaned.refused["row"].tolist() == [4]
    assert (
        cleaned.notes[0] == f"tasted_at: {days} in row 2 is the number of a day and is read as 2026-05-03, and 1 more"
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_file_without_an_end_of_line_is_refused_by_its_beginning(tmp_path, encoding):
    path = tmp_path / "bases.csv"
    path.write_text("base_id,name\n" + "a" * 2_000_000, encoding)
    assert len(read(path)) == 1
    path.write_text("a" * 2_000_000, encoding)
    with pytest.raises(TableError, match=r"first line of .* has more than 1,048,576 bytes"):
        read(path)
