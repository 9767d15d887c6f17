"""pairing evening: limits are read, a set is saved, the sheet is written."""

import pytest

from pairing.cli.entry import main


@pytest.fixture
def demo(tmp_path, capsys):
    assert main(["demo", "--bench", str(tmp_path / "b"), "-n", "1"]) == 0
    capsys.readouterr()
    return str(tmp_path / "b")


def test_an_evening_from_the_command_line(demo, tmp_path, capsys):
    words = ["evening", "--bench", demo, "--tasters", "ana,mikko", "--most", "kcal=120", "--max-flavourings", "1"]
    sheet = tmp_path / "sheet.md"
    assert main([*words, "--on-hand", "mint,quince,vanilla", "--save-as", "box", "--sheet", str(sheet)]) == 0
    said = capsys.readouterr().out
    assert "mikko tastes in this order" in said
    assert "kcal, today's among it" in said
    assert sheet.read_text("utf-8").startswith("# Evening\n")
    assert main([*words, "--only", "box", "--json"]) == 0
    for wrong, hint in (
        (["--most", "kcal"], "gives no amount"),
        (["--most", "kcal=9", "--most", "ana:kcal=3"], "for all and for one"),
        (["--save-as", "box"], "names no bottles"),
        (["--cups", "9"], "a palate bears 4 to 6"),
    ):
        assert main(["evening", "--bench", demo, *wrong]) == 1
        assert hint in capsys.readouterr().err
