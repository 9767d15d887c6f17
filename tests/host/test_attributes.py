"""Words to judge a cup by, as plugins offer them."""

import shutil

import pandas as pd
import pytest
from plugin_lab import load_one

from pairing import Bench
from pairing.api import Attribute, Base, Flavouring
from pairing.cli import main
from pairing.errors import UnknownIdError
from pairing.host.attributes import check_words
from pairing.host.objects import checked

BODY = """
from pairing.api import Attribute
@hookimpl
def pairing_attributes():
    return [Attribute(name="body", question="How thick?", source="invented"),
            Attribute(name="Body!", question="How thick?", source="invented"),
            Attribute(name="body", question="Again?", source="invented")]
"""


def test_a_bad_word_and_one_that_is_there_twice_are_left_out(tmp_path):
    loaded, plugin = load_one(tmp_path, BODY)
    assert [a.name for a in loaded.attributes] == ["body"]
    assert plugin.state == "partly"
    assert "name is 'Body!'" in loaded.faults[0].line
    assert "used twice" in loaded.faults[1].line
    assert (
        checked("pairing_attributes", "lab", Attribute(name="body", question="?", source="x")).high == "much too strong"
    )


def test_a_misspelt_word_is_refused_with_the_nearest_and_without_plugins_every_word_goes(tmp_path):
    offered = load_one(tmp_path, BODY)[0].attributes
    with pytest.raises(UnknownIdError, match="did you mean body"):
        check_words(["boddy"], offered)
    check_words(["body"], offered)
    check_words(["boddy"], ())


def test_a_load_notes_a_word_that_no_plugin_offers_and_keeps_the_cup(tmp_path):
    bench = Bench.create(tmp_path / "bench")
    bench.keep(Base(base_id="oat", name="Oat"), Flavouring(flavouring_id="rose", name="Rose"))
    cups = {"trial_id": ["a", "b"], "base_id": "oat", "flavouring_id": "rose", "dose_g_per_kg": 1.0}
    report = bench.load(readings=pd.DataFrame({**cups, "attributes": ["sweetnes:4", "body:2"]}))
    assert "attributes: no plugin offers 'sweetnes', did you mean sweetness?" in report.notes
    assert not any("body" in note for note in report.notes)
    assert bench.tables("readings")["attributes"].tolist() == ["sweetnes:4", "body:2"]


def test_a_cup_is_logged_with_its_attributes(learned_demo, tmp_path, capsys):
    bench = str(shutil.copytree(learned_demo, tmp_path / "bench"))
    words = [
        "log",
        "oat",
        "--base-g",
        "200",
        "--add",
        "quince=0.3g",
        "--liking",
        "6",
        "--bench",
        bench,
        "--trial-id",
        "mine",
    ]
    assert main([*words, "--attributes", "sweetnes:4"]) == 1
    assert "did you mean sweetness" in capsys.readouterr().err
    assert main([*words, "--attributes", "sweetness:4;body:2"]) == 0
    readings = Bench.open(bench).tables("readings").set_index("trial_id")
    assert readings.loc["mine", "attributes"] == "sweetness:4;body:2"
