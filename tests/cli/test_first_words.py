"""What is said first, once, or not before there is anything to say."""

import shutil

from small_logs import BASES, FLAVOURINGS

from pairing import Bench, Cup
from pairing.cli import main
from pairing.cli.told import is_news


def test_what_rules_lack_is_said_once_and_again_when_it_changes(demo, tmp_path, capsys):
    path = tmp_path / "bench"
    shutil.copytree(demo, path)
    said = []
    for _ in range(2):
        main(["suggest", "--bench", str(path), "-n", "1"])
        said.append("lack a fact" in capsys.readouterr().out)
    Bench.open(path).correct("flavourings", "green-pear", {"sodium_mg_per_g": 0.0})
    main(["suggest", "--bench", str(path), "-n", "1"])
    said.append("lack a fact" in capsys.readouterr().out)
    assert said == [True, False, True]


def test_where_nothing_can_be_kept_it_is_said_each_time(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way", "utf-8")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    assert [is_news("bench", "x", ["a"]) for _ in range(2)] == [True, True]


def test_a_young_graph_says_how_many_cups_it_waits_for(tmp_path, capsys):
    path = tmp_path / "young"
    bench = Bench.create(path)
    bench.load(bases=BASES, flavourings=FLAVOURINGS)
    bench.log(Cup("oat", base_g=200).add("quince", g=0.4).add("clove", g=0.1), liking=6)
    assert main(["graph", "--bench", str(path)]) == 0
    said = capsys.readouterr().out
    assert "Too early" in said
    assert "Some 11 more" in said
    assert "+0.0" not in said


def test_recipes_and_bases_side_by_side_in_words_first(demo, capsys):
    assert main(["compare", "oat|quince=1.6", "oat|vanilla=2", "--bench", str(demo)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert "is liked better than" in " ".join(said[:2])
    assert "A blind check" in " ".join(said[:3])
    assert main(["compare", "oat", "pea", "--flavourings", "quince", "--bench", str(demo)]) == 0
    assert capsys.readouterr().out.startswith("Pea protein shake needs ")
    assert main(["compare", "oat", "oat|quince=1", "--bench", str(demo)]) == 1
    assert "'oat|'" in capsys.readouterr().err
    assert main(["compare", "oat|quince=1,234", "oat|quince=1", "--bench", str(demo)]) == 1
