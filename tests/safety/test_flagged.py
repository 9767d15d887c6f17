"""What was drunk is never lost: a log and a load keep it and flag it; words that keep nothing out are refused."""

import logging

import numpy as np
import pandas as pd
import pytest

from pairing import Bench, Cup
from pairing.errors import TableError
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.allergens import canonical
from pairing.safety.flagged import flags
from pairing.safety.unplaced import unplaced
from pairing.store.exchange import clean

FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["pure", "nut", "plum"],
        "name": ["Caffeine anhydrous", "Hazelnut", "Plum drops"],
        "label_dose": ["20 g/kg", "1 g/kg", "2 g/kg"],
        "allergens": ["none", "nuts", "none"],
        "food_use": "yes",
        "max_dose_g_per_kg": [None, None, 4.0],
    }
)
BASES = pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"], "allergens": ["gluten"], "serving_g": [250]})
TASTERS = pd.DataFrame({"taster": ["ana"], "avoid_allergens": ["hazelnut"], "avoid": ["none"]})


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "b")
    assert not len(bench.load(bases=BASES, flavourings=FLAVOURINGS, tasters=TASTERS).refused)
    return bench


def warned(caplog):
    return [r.getMessage() for r in caplog.records if r.name == "pairing" and r.levelno == logging.WARNING]


def test_a_deadly_cup_is_logged_and_flagged(bench, caplog):
    """Published: more than 200 mg caffeine at once, EFSA Journal 2015;13(5):4102."""
    trial = bench.log(Cup("oat", 250).add("pure", g=10).read(liking=5, taster="bo"))
    assert len(bench.tables("readings")) == 1
    (said,) = warned(caplog)
    assert trial in said
    assert "10000 mg at once, at most 200 mg" in said
    (flag,) = bench.flags(trial)
    assert (flag.trial_id, flag.taster, flag.why) == (trial, "bo", ("intake",))
    assert flag.recipe.doses["pure"] == pytest.approx(1000 * 10 / 260)


def test_what_is_swallowed_counts_where_sips_are_written_down(bench, caplog):
    cup = Cup("oat", 250).add("pure", g=0.5)  # 500 mg in the cup, 60 mg in a sip of 30 g
    bench.log(cup.sip(30, taster="bo").read(liking=5, taster="bo"))
    assert not warned(caplog)
    bench.log(cup.sip(200, taster="bo").read(liking=5, taster="bo"), trial_id="t2")
    assert len(warned(caplog)) == 1


def test_a_batch_is_one_serving_not_a_drink_of_litres(bench, caplog):
    bench.log(Cup("oat", 5000).add("pure", g=2).mix("batch"), ended="unfinished")  # 100 mg in 250 g
    assert not warned(caplog)


@pytest.mark.parametrize(
    ("flavouring", "grams", "taster", "kind"),
    [("nut", 0.3, "ana", "person"), ("plum", 1.1, "bo", "dose")],
)
def test_each_kind_of_stop_is_flagged(bench, flavouring, grams, taster, kind):
    trial = bench.log(Cup("oat", 250).add(flavouring, g=grams).read(liking=5, taster=taster))
    assert [flag.why for flag in bench.flags(trial)] == [(kind,)]
    assert bench.flags(trial)[0].cautions(bench.shelf())[0].kind == kind


def test_an_ordinary_cup_is_not_flagged(bench, caplog):
    bench.log(Cup("oat", 250).add("plum", g=0.3).read(liking=7, taster="ana"))
    assert bench.flags() == ()
    assert not warned(caplog)


def test_a_load_keeps_and_flags(bench):
    rows = {"trial_id": ["a", "b", "c", "d", "e", "f"], "base_id": "oat", "taster": ["ana", "bo"] * 3, "liking": 5}
    rows |= {"flavouring_id": ["nut", "nut", "plum", "pure", "pure", "pure"]}
    rows |= {"dose_g_per_kg": [1, 1, 2, 20, 20, 20], "base_g": 250}
    report = bench.load(readings=pd.DataFrame(rows))
    assert report.accepted == {"readings": 6}
    flagged = [note for note in report.notes if "flagged" in note]
    assert [name for name in "abcdef" if any(repr(name) in note for note in flagged)] == ["a", "d", "e", "f"]
    assert [flag.trial_id for flag in bench.flags()] == ["a", "d", "e", "f"]
    assert not [note for note in bench.load(readings=pd.DataFrame(rows)).notes if "flagged" in note], "nothing is new"


def test_only_the_first_reading_of_a_cup_and_taster_is_flagged():
    bases, flavourings = (clean(n, f).table for n, f in (("bases", BASES), ("flavourings", FLAVOURINGS)))
    shelf = Shelf.from_tables(bases, flavourings)
    cups = Recipes.of(shelf, [Recipe("oat", {"plum": dose}) for dose in (1.0, 5.0, 6.0)])
    names = (["t"], np.zeros(3, int)), (["ana"], np.zeros(3, int))
    (flag,) = flags(shelf, cups, np.full(3, np.nan), *names)
    assert flag.recipe.doses["plum"] == 5.0


@pytest.mark.parametrize("column", ["avoid", "avoid_allergens"])
def test_a_word_that_nobody_can_place_is_refused_with_the_nearest(bench, column):
    report = bench.load(tasters=pd.DataFrame({"taster": ["bo", "cy"], column: ["huselnut", "nuts"]}))
    assert report.accepted == {"tasters": 1}
    (row,) = report.refused.to_dict("records")
    assert (row["taster"], row["column"], row["value"]) == ("bo", column, "huselnut")
    assert "did you mean hazelnut" in row["remedy"]
    assert set(bench.shelf().tasters) == {"ana", "cy"}


def test_a_correction_of_a_taster_is_asked_too(bench):
    with pytest.raises(TableError, match="huselnut"):
        bench.correct("tasters", "ana", {"avoid": "huselnut"})
    bench.correct("tasters", "ana", {"avoid": "plum"})
    assert bench.shelf().tasters["ana"].avoid == {"plum"}


def test_ids_tags_and_names_of_the_same_load_are_known(tmp_path):
    bench = Bench.create(tmp_path / "b")
    tagged = FLAVOURINGS.assign(tags=["sharp", None, None])
    people = pd.DataFrame({"taster": ["a", "b", "c", "d"], "avoid": ["plum", "sharp", "drops", "elderberry"]})
    report = bench.load(bases=BASES, flavourings=tagged, tasters=people)
    assert report.refused["taster"].tolist() == ["d"]


@pytest.mark.parametrize(
    ("word", "allergen"),
    [
        ("Nüsse", "nuts"), ("erdnuss", "peanut"), ("durum", "wheat"), ("spelt", "wheat"), ("soja", "soy"),
        ("ghee", "milk"), ("lysozyme", "egg"), ("pine nuts", "nuts"), ("arachides", "peanut"), ("lait", "milk"),
        ("frutta a guscio", "nuts"), ("cacahuetes", "peanut"), ("orzechy", "nuts"), ("gorczyca", "mustard"),
        ("pinda's", "peanut"), ("selderij", "celery"), ("ostriche", "molluscs"), ("altramuces", "lupin"),
    ],
)  # fmt: skip
def test_words_of_labels_are_placed(word, allergen):
    """From memory: Regulation (EU) No 1169/2011, Annex II, in the words of labels of its languages."""
    assert allergen in canonical(word)
    for column in ("avoid", "avoid_allergens"):
        assert not list(unplaced(Taster(taster="a", **{column: word}), Shelf.of([], [])))


def test_phenylalanine_means_aspartame_in_either_column():
    """Published: Regulation (EU) No 1169/2011, Annex III: aspartame is a source of phenylalanine."""
    from pairing.model.flavouring import Flavouring
    from pairing.safety.avoidance import forbidden

    sweet = Flavouring(flavouring_id="sweet", name="Sweet drops", sweeteners="aspartame:10", allergens="none")
    for column in ("avoid", "avoid_allergens"):
        person = Taster(taster="a", **{column: "phenylalanine"})
        assert not list(unplaced(person, Shelf.of([], [sweet])))
        assert [why.word for why in forbidden(["sweet"], Shelf.of([], [sweet]), person)] == ["phenylalanine"]


def test_a_tag_of_two_hundred_words_is_refused():
    frame = FLAVOURINGS.assign(tags=[" ".join(["word"] * 200), "a;b", None])
    found = clean("flavourings", frame)
    assert found.refused["flavouring_id"].tolist() == ["pure"]
    assert "at most 200" in found.refused["reason"].iloc[0]


@pytest.mark.parametrize("mass", [0, 900, -5])
def test_a_body_mass_that_nobody_has_is_refused(bench, mass):
    report = bench.load(tasters=pd.DataFrame({"taster": ["bo"], "body_mass_kg": [mass]}))
    assert report.refused["reason"].tolist() == [f"body_mass_kg is {mass}, allowed is 2 to 400"]


@pytest.mark.parametrize("heading", ["Max dose", "maximum", "Limit", "dose max"])
def test_a_column_of_limits_without_a_unit_is_refused(heading):
    with pytest.raises(TableError, match="limit without a unit") as refused:
        clean("flavourings", FLAVOURINGS.drop(columns="max_dose_g_per_kg").assign(**{heading: 4.0}))
    assert "max_dose_g_per_kg" in refused.value.hint
