"""From three files as people keep them to the first suggestion of one's own, and the line that logs it."""

import shlex

import pytest
from openpyxl import Workbook

from pairing import Bench
from pairing.cli import main

DRINKS = """\
What we pour,,,,,
(spring),,,,,
NAME,Energy,fat (g / 100 g),Serving,ALLERGENS,Price
Oat drink,45 kcal,1.5 g,250 ml,oats,1.80 EUR per litre
Pea shake,"260 kJ",2.0,300 ml,?,2.40 EUR per litre
Whey shake,78 kcal,0.9 g,300 g,milk,?
"""
BOTTLES = [
    ["Bottles in the box"],
    [],
    ["Name", "Kind", "Dosage", "Drop weight (mg)", "Carrier", "Price", "Size", "Food grade"],
    ["Vanilla drops", "drops", "5 drops per 100 ml", "25 mg", "propylene glycol", "6.90 EUR", "30 ml", "yes"],
    ["Lime leaf", "drops", "?", None, "ethanol", 5, "10 ml", "yes"],
    ["Cocoa powder", "powder", "10 g per litre", None, None, "4 EUR", "?", "yes"],
    ["Quince syrup", "syrup", "40 g/l", None, None, "3,50 EUR", "250 ml", "no"],
]
WORDS = {1: "too weak", 2: "just right", 3: "Too strong"}


def workbook(path, rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)
    return str(path)


def tasted():
    """A log with a title, a serial day, days that may be either, names and words, and drops as bare numbers."""
    rows = [["Tasting log"], ["Cup", "When", "Base", "Base g", "Flavouring", "Drops", "Strength", "Liking", "Who"]]
    for base in ("Oat drink", "pea shake", "WHEY SHAKE"):
        for bottle, drops in (("Vanilla drops", 6), ("lime leaf", 4)):
            for step, word in WORDS.items():
                n = len(rows) - 1
                day = 46083 + n if n % 2 else f"{n + 1:02}/05/2026"
                score = "?" if n == 4 else 8 - abs(step - 2) * 2
                rows.append(
                    [f"cup {n}", day, base, "250 g", bottle, drops * step, word, score, "Ana" if n % 3 else "ben"]
                )
    return [*rows, [None] * 9]


@pytest.fixture
def said(tmp_path, capsys):
    def run(*words):
        capsys.readouterr()
        code = main([*words, "--bench", str(tmp_path / "bench")])
        found = capsys.readouterr()
        return code, " ".join((found.out + found.err).split())

    return run


def test_from_three_untidy_files_to_a_suggestion_and_the_line_that_logs_it(tmp_path, said, capsys):
    (tmp_path / "my drinks.csv").write_text(DRINKS, "utf-8")
    files = [str(tmp_path / "my drinks.csv"), workbook(tmp_path / "bottles.xlsx", BOTTLES)]
    assert said("init")[0] == 0
    code, text = said("load", *files, workbook(tmp_path / "log.xlsx", tasted()))
    assert code == 0, text
    notes = (
        "'What we pour', '(spring)' is not read",
        "read 'oats' as gluten",
        "label_dose: empty for lime-leaf (row 5)",
        "read of Drops: what is in the cup so far",
        "46084 in row 3 is the number of a day and is read as 2026-03-03",
        "'03/05/2026' in row 4 is read as 2026-05-03, day first, as",
    )
    assert [note for note in notes if note not in text] == []
    bench = Bench.open(tmp_path / "bench")
    vanilla, cocoa = bench.shelf().flavouring("vanilla-drops"), bench.shelf().flavouring("cocoa-powder")
    assert (vanilla.cost_per_g, vanilla.drop_mg, vanilla.form, cocoa.cost_per_g) == (0.23, 25, "drops", None)
    assert bench.shelf().base("pea-shake").energy_kcal_per_100g == pytest.approx(260 / 4.184, rel=1e-3)
    readings = bench.tables("readings")
    assert len(readings) == 18
    assert readings["amount"].tolist()[:3] == ["6 drops", "12 drops", "18 drops"]

    code, text = said("suggest", "--bases", "Oat drink", "-n", "1")
    assert code == 0, text
    assert "Quince syrup" not in text.partition("Care:")[0]
    line = text[text.index("pairing log") : text.index(" --bench")]
    command = shlex.split(line.replace("--liking …", "--liking 7").replace("…", "3"))
    code, text = said(*command[1:], "--trial-id", "first", "--taster", "Ana")
    assert code == 0, text
    cup = bench.trial("first")["readings"]
    assert set(cup["liking"]) == {7.0}
    assert set(cup["chosen_by"]) == {"suggested"}
