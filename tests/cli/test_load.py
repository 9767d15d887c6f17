"""`pairing load`: files as a spreadsheet leaves them."""

import json

import pandas as pd
import pytest

from pairing.bench import Bench
from pairing.cli import main
from pairing.errors import TableError
from pairing.model import fields
from pairing.store.placing import table_of


def test_a_title_above_the_column_names_is_passed_over_and_named(tmp_path, capsys, place):
    bench = str(place("b"))
    main(["init", "--bench", bench])
    capsys.readouterr()
    untidy = tmp_path / "bottles.csv"
    title = "Our bottles, spring;;;\n;;;\nflavouring_id;name;label_dose;drop_mg\n"
    untidy.write_text(title + "rose;Rose;5 g/kg;24,5\nfig;Fig;a lot;1\nsloe;Sloe;?;\n", "utf-8")
    assert main(["load", str(untidy), "--bench", bench, "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert "bottles.csv: above the column names, 'Our bottles, spring' is not read" in said["notes"]
    assert [row["row"] for row in said["refused"]] == [5]
    assert Bench.open(bench).shelf().flavouring("rose").drop_mg == 24.5
    assert Bench.open(bench).shelf().flavouring("sloe").label_dose is None  # ? is what people write for not known
    assert any(note.startswith("label_dose: empty for sloe (row 6)") for note in said["notes"])


def test_a_file_whose_first_row_names_nothing_is_told_so(tmp_path, capsys, place):
    bench = str(place("b"))
    main(["init", "--bench", bench])
    untidy = tmp_path / "bottles.csv"
    untidy.write_text("Our bottles;;;\nbottle;colour;smell;size\nrose;red;fine;1\n", "utf-8")
    assert main(["load", str(untidy), "--bench", bench]) == 1
    said = capsys.readouterr().err
    assert "names 1 of 4 columns: our_bottles" in said
    assert "delete the rows above" in said


def test_refused_rows_of_files_with_other_headings_keep_every_cell(tmp_path, capsys, place):
    bench, refused = str(place("b")), tmp_path / "refused.csv"
    main(["init", "--bench", bench])
    bases, bottles = tmp_path / "bases.csv", tmp_path / "bottles.csv"
    bases.write_text("Base_ID,Name,PH,Allergens\nsoup,Soup,99,celery\n", "utf-8")
    bottles.write_text("flavouring_id,name,label_dose,allergens\nfig,Fig,a lot,milk\n", "utf-8")
    assert main(["load", "--bases", str(bases), str(bottles), "--bench", bench, "--refused", str(refused)]) == 1
    refused.write_text(refused.read_text("utf-8").replace("a lot", "5 g/kg").replace("99", "6"), "utf-8")
    assert main(["load", str(refused), "--bench", bench]) == 0, capsys.readouterr()
    shelf = Bench.open(bench).shelf()
    assert shelf.base("soup").allergens == {"celery"}
    assert shelf.flavouring("fig").allergens == {"milk"}


def test_what_is_corrected_is_counted(tmp_path, capsys, place):
    bench = str(place("b"))
    main(["init", "--bench", bench])
    files = {
        "bases": "base_id,name\noat,Oat\n",
        "flavourings": "flavouring_id,name,label_dose\na,A,5 g/kg\nb,B,5 g/kg\n",
    }
    files["readings"] = "trial_id,base_id,flavouring_id,dose_g_per_kg\nt,oat,a,2\nt,oat,b,3\n"
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        assert main(["load", str(tmp_path / f"{name}.csv"), "--bench", bench]) == 0
    assert "   corrected" not in capsys.readouterr().out
    log = tmp_path / "readings.csv"
    log.write_text(files["readings"].removesuffix("t,oat,b,3\n"), "utf-8")
    assert main(["load", str(log), "--bench", bench]) == 1
    capsys.readouterr()
    assert main(["load", str(log), "--bench", bench, "--on-conflict", "revise", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["tables"] == [{"table": "readings", "accepted": 0, "revised": 1, "known": 1, "refused": 0}]


def test_a_correcting_load_says_what_it_corrected(tmp_path, capsys, place):
    bench, file = str(place("b")), tmp_path / "bases.csv"
    main(["init", "--bench", bench])
    file.write_text("base_id,name\noat,Oat\npea,Pea\n", "utf-8")
    assert main(["load", str(file), "--bench", bench]) == 0
    assert "corrected" not in capsys.readouterr().out
    file.write_text("base_id,name\noat,Oat drink\npea,Pea\n", "utf-8")
    assert main(["load", str(file), "--bench", bench, "--on-conflict", "revise"]) == 0
    heading, _, row = [line.split() for line in capsys.readouterr().out.splitlines() if line.strip()][:3]
    assert heading == ["table", "rows", "taken", "corrected", "already", "known", "refused"]
    assert row == ["bases", "0", "1", "1", "0"]


def test_refused_rows_are_corrected_and_loaded_again(tmp_path, capsys, place):
    bench, file, refused = str(place("b")), tmp_path / "bottles.csv", tmp_path / "refused.csv"
    bases = tmp_path / "bases.csv"
    main(["init", "--bench", bench])
    file.write_text(
        "flavouring_id;name;label_dose;density_g_per_ml\nrose;Rose;5 g/kg;1,1\nfig;Fig;a lot;1,030\n", "utf-8"
    )
    bases.write_text("base_id;name;ph\noat;Oat;6,5\npea;Pea;99\n", "utf-8")
    assert main(["load", str(file), str(bases), "--bench", bench, "--refused", str(refused)]) == 1
    capsys.readouterr()
    assert main(["load", str(refused), "--bench", bench]) == 1
    assert "not used" not in capsys.readouterr().out
    assert ",a lot,1.03\n" in refused.read_text("utf-8")
    refused.write_text(refused.read_text("utf-8").replace(",a lot,", ",5 g/kg,").replace(",99", ",6.9"), "utf-8")
    assert main(["load", str(refused), "--bench", bench]) == 0
    said = capsys.readouterr().out
    assert "not used" not in said
    shelf = Bench.open(bench).shelf()
    assert shelf.flavouring("fig").density_g_per_ml == 1.03
    assert shelf.base("pea").ph == 6.9


def test_a_refused_row_without_cells_is_not_dropped_when_it_comes_again(tmp_path, capsys, place):
    bench, file, refused = str(place("b")), tmp_path / "bases.csv", tmp_path / "refused.csv"
    main(["init", "--bench", bench])
    file.write_text("base_id,name\noat,Oat\npea,Pea,1,5\n", "utf-8")
    assert main(["load", str(file), "--bench", bench, "--refused", str(refused)]) == 1
    assert main(["load", str(refused), "--bench", bench]) == 1
    assert "base_id is empty" in capsys.readouterr().out


def test_an_improbable_dose_is_named_however_it_is_written(tmp_path, capsys, place):
    bench, file, log = str(place("b")), tmp_path / "bottles.csv", tmp_path / "log.csv"
    main(["init", "--bench", bench])
    file.write_text("flavouring_id,name,label_dose_g_per_kg\ncocoa,Cocoa,15\n", "utf-8")
    (tmp_path / "bases.csv").write_text("base_id,name\noat,Oat\n", "utf-8")
    heading = "trial_id,base_id,flavouring_id,amount,base_g,liking\n"
    log.write_text(f"{heading}c1,oat,cocoa,4 g,250,7\nc2,oat,cocoa,4000 g,250,7\n", "utf-8")
    assert main(["load", str(file), str(tmp_path / "bases.csv"), str(log), "--bench", bench]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "row 3: cup 'c2'" in said
    assert "941" in said
    assert "'c1'" not in said
    log.write_text(f"{heading}c3,oat,cocoa,5 g,250,7\n", "utf-8")
    assert main(["load", str(log), "--bench", bench]) == 0
    assert "'c2'" not in capsys.readouterr().out
    assert main(["doctor", "--bench", bench]) == 0
    assert "'c2'" in " ".join(capsys.readouterr().out.split())


def test_a_bench_with_kept_names_that_may_be_several_stays_in_use(tmp_path, capsys, monkeypatch, place):
    bench, exported = str(place("b")), str(tmp_path / "out")
    main(["init", "--bench", bench])
    texts = {
        "bases": 'base_id,name,made_from\noat,Oat,\nmix,Mix,"oats, water"\n',
        "flavourings": "flavouring_id,name,label_dose,carrier,sweeteners,food_use\n"
        'rose,Rose,5 g/kg,"water, ethanol",,yes\nfig,Fig,5 g/kg,,"aspartame:100, acesulfame k:50",yes\n',
        "readings": 'trial_id,base_id,flavouring_id,dose_g_per_kg,liking,attributes\nt1,oat,rose,2,7,"sweet, fruity"\n',
    }
    for name, text in texts.items():
        (tmp_path / f"{name}.csv").write_text(text, "utf-8")
    files = [str(tmp_path / f"{name}.csv") for name in texts]
    with monkeypatch.context() as earlier:
        earlier.setattr(fields, "_loses", lambda name, number: False)
        assert main(["load", *files, "--bench", bench]) == 0
    shelf = Bench.open(bench).shelf()
    assert dict(shelf.flavouring("fig").sweeteners) == {"aspartame:100, acesulfame k": 50}
    assert dict(shelf.base("mix").made_from) == {"oats, water": None}
    for words in (["suggest", "--bases", "oat"], ["dose", "oat", "rose"]):
        assert main([*words, "--bench", bench]) == 0, words
    capsys.readouterr()
    assert main(["doctor", "--bench", bench, "--json"]) == 0
    points = [p for p in json.loads(capsys.readouterr().out)["open_points"] if "may be several" in p["point"]]
    assert [p["about"] for p in points] == ["mix", "rose", "fig", "t1"]
    assert "--on-conflict revise" in points[0]["remedy"]

    assert main(["export", exported, "--bench", bench]) == 0
    again = str(place("again"))
    main(["init", "--bench", again])
    capsys.readouterr()
    assert main(["load", exported, "--bench", again, "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert [(r["table"], r["column"]) for r in said["refused"]] == [("flavourings", "sweeteners")]
    assert (
        "carrier: 'water, ethanol' in row 2 is kept as one name; if it is several, put ; between them" in said["notes"]
    )
    assert dict(Bench.open(again).shelf().flavouring("rose").carrier) == {"water, ethanol": None}


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("semicolons.csv", "base_id;name;sodium_mg_per_100g;ph\noat;Oat;3,456;99\npea;Pea;1,5;6,5\n"),
        ("thousands.csv", 'base_id,name,sodium_mg_per_100g,ph\noat,Oat,"1,250",99\npea,Pea,"1,000.5",6.5\n'),
        ("tabs.tsv", "base_id\tname\tsodium_mg_per_100g\tph\noat\tOat\t3,456\t99\npea\tPea\t1,5\t6,5\n"),
        (
            "book.xlsx",
            [["base_id", "name", "sodium_mg_per_100g", "ph"], ["oat", "Oat", 3.456, 99], ["pea", "Pea", 2, 6.5]],
        ),
    ],
)
@pytest.mark.parametrize("beside", ["flavouring_id;name;label_dose;density_g_per_ml\nfig;Fig;5 g/kg;99,5\n", None])
def test_numbers_of_refused_rows_come_back_the_same(tmp_path, name, text, beside, place):
    bench, file, refused = str(place("b")), tmp_path / name, tmp_path / "refused.csv"
    main(["init", "--bench", bench])
    if isinstance(text, str):
        file.write_text(text, "utf-8")
    else:
        pd.DataFrame(text[1:], columns=text[0]).to_excel(file, index=False)
    files = [str(file)]
    if beside:
        (tmp_path / "bottles.csv").write_text(beside, "utf-8")
        files.append(str(tmp_path / "bottles.csv"))
    assert main(["load", *files, "--bench", bench, "--refused", str(refused)]) == 1
    corrected = refused.read_text("utf-8").replace(",99.5", ",1.05").replace(",99", ",6.9")
    refused.write_text(corrected, "utf-8")
    assert main(["load", str(refused), "--bench", bench]) == 0
    shelf = Bench.open(bench).shelf()
    assert shelf.base("oat").sodium_mg_per_100g == (1250 if name == "thousands.csv" else 3.456)
    assert shelf.base("oat").ph == 6.9
    if beside:
        assert shelf.flavouring("fig").density_g_per_ml == 1.05


def test_a_refused_number_that_may_be_either_is_not_read_by_chance(tmp_path, capsys, place):
    bench, file, refused = str(place("b")), tmp_path / "bases.csv", tmp_path / "refused.csv"
    main(["init", "--bench", bench])
    file.write_text("base_id;name;sodium_mg_per_100g\noat;Oat;1.250\npea;Pea;1,5\n", "utf-8")
    assert main(["load", str(file), "--bench", bench, "--refused", str(refused)]) == 1
    assert main(["load", str(refused), "--bench", bench]) == 1
    refused.write_text(refused.read_text("utf-8").replace("1.250 ?", "1250"), "utf-8")
    assert main(["load", str(refused), "--bench", bench]) == 0
    assert Bench.open(bench).shelf().base("oat").sodium_mg_per_100g == 1250


def test_a_table_is_told_by_headings_in_ones_own_words():
    said = {
        "bases": "ID;Name;kcal / 100 ml;Serving",
        "flavourings": "Code;Name;Dosage;Price;Stock",
        "readings": "cup;base;flavouring;amount;who;strength",
    }
    for table, headings in said.items():
        assert table_of("file.csv", headings.split(";")) == table
    with pytest.raises(TableError, match=r"may be flavourings or bases.*its columns \(ID, Name\)"):
        table_of("both.csv", ["ID", "Name"])
    with pytest.raises(TableError, match=r"comes nearest to readings by its .* lacks: trial_id"):
        table_of("log.csv", ["base", "flavouring", "liking", "strength"])
    for log in (["Drink", "Flavour 1", "Dose 1", "Flavour 2", "Dose 2", "Score"], ["Drink", "Score", "Date", "Who"]):
        with pytest.raises(TableError, match=r"comes nearest to readings by its .* lacks: trial_id"):
            table_of("log.csv", log)


def test_a_file_that_fits_several_tables_is_told_by_its_name():
    assert table_of("our_bases.csv", ["Name"]) == "bases"
    assert table_of("Flavors 2026.xlsx", ["Name", "Notes"]) == "flavourings"
    with pytest.raises(TableError, match="may be flavourings or bases"):
        table_of("sheet.csv", ["Name"])


def test_nothing_is_loaded_while_a_file_cannot_be_placed(tmp_path, capsys):
    bench = str(tmp_path / "b")
    main(["init", "--bench", bench])
    names, bases = tmp_path / "names.csv", tmp_path / "bases.csv"
    names.write_text("Name\nRose\n", "utf-8")
    bases.write_text("Name\nOat drink\n", "utf-8")
    assert main(["load", str(bases), str(names), "--bench", bench]) == 1
    said = capsys.readouterr().err
    assert "bases.csv is bases, and waits" in said
    assert "names.csv may be" in said
    assert not Bench.open(bench).shelf().bases
    assert main(["load", str(bases), "--bench", bench]) == 0
    assert list(Bench.open(bench).shelf().bases) == ["oat-drink"]


def test_refused_rows_that_are_alike_are_shown_as_one(tmp_path, capsys):
    bench, log = str(tmp_path / "b"), tmp_path / "log.csv"
    main(["init", "--bench", bench])
    rows = "".join(f"c{i},oat,fig,{'99' if i == 4 else ''}\n" for i in range(8))
    log.write_text(f"trial_id,base_id,flavouring_id,liking\n{rows}", "utf-8")
    capsys.readouterr()
    assert main(["load", str(log), "--bench", bench]) == 1
    said = capsys.readouterr().out
    shown = [line.split()[1:5] for line in said.splitlines() if line.startswith(" readings")]
    assert [row[0] for row in shown[-2:]] == ["2", "6"]
    assert shown[-2][1:] == ["and", "6", "more"]
    assert "--refused FILE" in said
    log.write_text("trial_id,base_id,flavouring_id\n" + "".join(f"c{i},oat,fig{i}\n" for i in range(60)), "utf-8")
    assert main(["load", str(log), "--bench", bench]) == 1
    assert "And 20 more lines like these" in capsys.readouterr().out
