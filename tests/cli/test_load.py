"""`pairing load`: files as a spreadsheet leaves them."""

from pairing.cli import main


def test_a_heading_above_the_column_names_is_named(tmp_path, capsys):
    bench = str(tmp_path / "b")
    main(["init", "--bench", bench])
    untidy = tmp_path / "bottles.csv"
    untidy.write_text("Our bottles;;;\nflavouring_id;name;label_dose;drop_mg\nrose;Rose drops;5 g/kg;24,5\n", "utf-8")
    assert main(["load", str(untidy), "--bench", bench]) == 1
    said = capsys.readouterr().err
    assert "names 1 of 4 columns: our_bottles" in said
    assert "delete the rows above" in said
