"""`pairing stock`: what is left, in whole grams; what a batch lacks; and bottles on the scale."""

import pandas as pd
import pytest
import store_tables

from pairing import Bench
from pairing.cli import main

LOT = {"item_id": "sour-plum", "size": "30 ml", "tare_g": 21.0, "price": 12.0}


@pytest.fixture
def stocked(bench):
    lots = [{**LOT, "lot": "A", "opened_at": "2026-01-02"}, {**LOT, "lot": "B", "opened_at": "2026-02-02"}]
    Bench.open(bench).load(lots=pd.DataFrame(lots))
    return bench


def test_it_shows_whole_grams_and_lots_win_over_a_stated_stock(stocked, ask, capsys):
    code, said = ask("stock", "--bench", stocked)
    plum = [row for row in said["stock"] if row["item_id"] == "sour-plum"]
    assert code == 0
    assert [(row["lot"], row["held_g"]) for row in plum] == [("A", 31.2), ("B", 31.2)]
    assert main(["stock", "--bench", stocked]) == 0
    assert "about 31 g" in capsys.readouterr().out


def test_it_asks_which_of_two_open_lots_and_remembers(stocked, ask):
    code, said = ask("stock", "weigh", "sour-plum", "31", "--bench", stocked)
    assert code == 1
    assert "A, B" in said["error"]
    assert ask("stock", "weigh", "sour-plum", "31", "--lot", "B", "--bench", stocked)[1]["held"]["held_g"] == 10.0
    code, said = ask("stock", "weigh", "sour-plum", "30", "--bench", stocked)
    assert (code, said["held"]["lot"], said["held"]["held_g"]) == (0, "B", 9.0)


@pytest.mark.parametrize(
    "words",
    [
        ("sour-plum", "3", "--lot", "A"),
        ("sour-plum", "300", "--lot", "A"),
        ("sour-plum", "30", "--lot", "C"),
        ("plumm", "3"),
    ],
)
def test_a_weighing_that_cannot_be_is_refused(stocked, ask, words):
    code, said = ask("stock", "weigh", *words, "--bench", stocked)
    assert code == 1
    assert said["hint"]
    assert Bench.open(stocked).tables("weighings").empty


def test_it_says_what_two_batches_lack_and_cost(stocked, ask):
    code, said = ask("stock", "--for", "oat|sour-plum=1.6", "pea|sour-plum=2", "--litres", "20", "--bench", stocked)
    plum = next(row for row in said["needs"] if row["item_id"] == "sour-plum")
    assert code == 0
    assert plum["need_g"] == pytest.approx(20.6 * 1.6 / 0.9984 + 20.8 * 2 / 0.998)
    assert plum["buy_g"] == pytest.approx(plum["need_g"] - 62.4)
    assert (plum["bottles"], plum["cost"]) == (1, 12.0)


def test_a_card_says_what_its_batch_lacks(stocked, ask, capsys):
    card = ask("card", "oat|sour-plum=7.3", "--litres", "20", "--bench", stocked)[1]["card"]
    (short,) = card["short"]
    assert (short["item_id"], round(short["need_g"]), round(short["held_g"])) == ("sour-plum", 151, 62)
    assert short["buy_g"] == pytest.approx(short["need_g"] - 62.4)
    assert main(["card", "oat|sour-plum=7.3", "--litres", "20", "--bench", stocked]) == 0
    assert "about 62 g are there" in capsys.readouterr().out
    assert not ask("card", "oat|sour-plum=1", "--bench", stocked)[1]["card"]["short"]


def test_a_bottle_is_bought(tmp_path, capsys):

    store_tables.stocked(tmp_path / "b")
    words = [
        "stock",
        "buy",
        "quince",
        "30 ml",
        "--bench",
        str(tmp_path / "b"),
        "--price",
        "12",
        "--opened-at",
        "2026-01-01",
    ]
    assert main([*words, "--bought-at", "2026-01-01"]) == 0
    assert "Entered: lot 1 of quince, 30 ml" in capsys.readouterr().out
    assert main([*words, "--bought-at", "2026-02-01"]) == 1
    assert "is before bought_at" in capsys.readouterr().err


CUP = ("log", "oat", "--base-g", "300", "--add", "sour-plum=8drops", "--strength", "sour-plum=3")


def test_a_cup_of_two_open_lots_is_asked_about_once(stocked, ask):
    code, said = ask(*CUP, "--bench", stocked)
    assert code == 1
    assert "2 lots of sour-plum are open: A, B" in said["error"]
    assert "--lot sour-plum=LOT" in said["hint"]
    assert Bench.open(stocked).tables("steps").empty
    assert "known are: A, B" in ask(*CUP, "--lot", "sour-plum=C", "--bench", stocked)[1]["hint"]
    for words in (("--lot", "sour-plum=B"), ()):
        assert ask(*CUP, *words, "--bench", stocked)[0] == 0
    rows = Bench.open(stocked).tables("readings")
    assert rows["lot"].tail(2).tolist() == ["B", "B"]


def test_a_bottle_is_opened_and_emptied(stocked, ask):
    bench = Bench.open(stocked)
    bench.buy("sour-plum", "30 ml", lot="C", bought_at="2026-03-01")
    assert ask("stock", "open", "sour-plum", "--bench", stocked)[1]["lot"]["lot"] == "C"  # the only closed one
    for lot in "AB":
        code, said = ask("stock", "empty", "sour-plum", "--lot", lot, "--at", "2026-04-01", "--bench", stocked)
        assert (code, said["lot"]["emptied_at"]) == (0, "2026-04-01")
    assert bench.shelf().lot_in_use == {"sour-plum": "C"}
    assert ask("stock", "empty", "sour-plum", "--at", "2020-01-01", "--bench", stocked)[0] == 1
    assert ask("stock", "open", "plumm", "--bench", stocked)[0] == 1


def test_stock_and_dose_say_how_a_lot_reads(stocked, ask, capsys):
    for word, lot in ((2, "A"), (3, "A"), (4, "B"), (3, "B")):
        assert ask(*CUP[:-1], f"sour-plum={word}", "--lot", f"sour-plum={lot}", "--bench", stocked)[0] == 0
    rows = ask("stock", "--bench", stocked)[1]["lot_strength"]
    plum = [(row["lot"], row["before"], row["readings"]) for row in rows if row["flavouring_id"] == "sour-plum"]
    assert plum == [("A", None, 2), ("B", "A", 2)]
    bench = Bench.open(stocked)
    bench.buy("sour-plum", "30 ml", lot="C", bought_at="2026-03-01", opened_at="2026-03-02")
    for lot in "AB":
        bench.mark_lot("sour-plum", "emptied_at", lot)
    assert main(["dose", "oat", "sour-plum", "--bench", stocked]) == 0
    assert "lot C: not tasted yet; its dose starts from that of lot B" in " ".join(capsys.readouterr().out.split())
