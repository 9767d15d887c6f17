"""Off-notes: learned by base, flavouring and dose, with intervals; and what covers them."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.special import logit

import pairing
from pairing import Brief, Recipe
from pairing.api import Rule
from pairing.errors import BriefError, PluginError, UnknownIdError
from pairing.host.rules import hosted_rule
from pairing.learning.log import read_log
from pairing.learning.off_notes import Expected, fit_off_notes, notes_in
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf

BASES = pd.DataFrame({"base_id": ["oat", "pea"], "name": ["Oat", "Pea"]})
FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["cocoa", "violet", "plum"],
        "name": ["Dark cocoa", "Violet", "Plum"],
        "label_dose_g_per_kg": 2.0,
        "role": [None, None, None],
    }
)


def log(chances, cups=30, seed=0):
    """Return cups of base, flavouring and the chance that they are beany."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"{base}-{flavouring}-{i}", base, flavouring, 2.0 if flavouring else 0.0, 5 + (flavouring == "cocoa"),
         "beany:2" if rng.random() < p else None)
        for (base, flavouring), p in chances.items() for i in range(cups)
    ]  # fmt: skip
    names = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "liking", "off_notes"]
    return pd.DataFrame(rows, columns=names)


KNOWN = {("pea", None): 0.8, ("oat", None): 0.05, ("pea", "violet"): 0.9, ("pea", "cocoa"): 0.25, ("oat", "plum"): 0.05}


@pytest.fixture(scope="module")
def model():
    return pairing.learn(BASES, FLAVOURINGS, log(KNOWN))


def test_what_is_written_is_read():
    assert notes_in("bitter:1@aftertaste; Beany:2;chalky") == {"bitter@aftertaste": 1, "beany": 2, "chalky": 1}
    assert notes_in("none") == {}


def test_each_base_has_its_notes_with_intervals(model):
    plain = model.off_notes().set_index("base_id")
    rows = log(KNOWN)
    own = rows[(rows["base_id"] == "pea") & rows["flavouring_id"].isna()]["off_notes"].notna().mean()
    assert plain.loc["pea", "probability"] == pytest.approx(own, abs=0.1)
    assert plain.loc["oat", "probability"] < 0.15
    assert ((plain["low"] < plain["probability"]) & (plain["probability"] < plain["high"])).all()
    assert plain.loc["pea", "strength"] == 2


def test_it_is_what_a_reference_library_finds(model):
    from sklearn.linear_model import LogisticRegression

    rows = log(KNOWN)
    x = pd.get_dummies(rows[["base_id", "flavouring_id"]]).to_numpy(float)
    fitted = LogisticRegression(C=1.5**2, max_iter=1000).fit(x, rows["off_notes"].notna())
    mine = model.off_notes([Recipe(b, {} if f is None else {f: 2.0}) for b, f in KNOWN])
    theirs = fitted.predict_proba(x[[int(30 * i) for i in range(len(KNOWN))]])[:, 1]
    assert mine["probability"].to_numpy() == pytest.approx(theirs, abs=0.08)
    assert list(zip(mine["base_id"], mine["flavourings"], strict=True)) == [(b, (f,) if f else ()) for b, f in KNOWN]


def test_however_many_cups_a_recipe_may_be_off_what_its_parts_lead_to_expect():
    shelf, rows = Shelf.from_tables(BASES, FLAVOURINGS), log({("pea", None): 0.5}, cups=400)
    found = fit_off_notes(shelf, read_log(shelf, rows)).table(Recipes.at(np.array([1]), np.full((1, 1), -1)))
    assert logit(found["high"][0]) - logit(found["low"][0]) == pytest.approx(2 * 1.2816 * 0.46, rel=0.05)


def test_a_note_is_as_strong_elsewhere_as_where_it_was_found():
    shelf, rows = Shelf.from_tables(BASES, FLAVOURINGS), log({("pea", None): 0.0, ("oat", None): 0.0}, cups=2)
    rows.loc[0, "off_notes"] = "beany:2"
    found = fit_off_notes(shelf, read_log(shelf, rows)).table(Recipes.at(np.array([0, 1]), np.full((2, 1), -1)))
    assert found["strength"].tolist() == [2, 2]


def test_where_the_own_cups_and_other_kitchens_disagree_both_are_held_possible():
    shelf, rows = Shelf.from_tables(BASES, FLAVOURINGS), log({("pea", None): 0.0}, cups=4)
    rows.loc[:1, "off_notes"] = "beany:2"
    rare = Expected(np.append(-3.0, np.zeros(8)), np.full(9, 0.01), 1.0)
    own, both = (
        fit_off_notes(shelf, read_log(shelf, rows), pool).table(Recipes.at(np.array([1]), np.full((1, 1), -1))).iloc[0]
        for pool in ({}, {"beany": rare})
    )
    assert both["probability"] < own["probability"]
    assert logit(both["high"]) - logit(both["low"]) > logit(own["high"]) - logit(own["low"])


def test_without_notes_there_is_nothing_to_tell():
    silent = pairing.learn(BASES, FLAVOURINGS, log(KNOWN).assign(off_notes=None))
    assert silent.off_notes().empty
    with pytest.raises(UnknownIdError, match="no off-note 'beany'"):
        silent.suggest(Brief(mask="beany"))


def test_a_suggestion_may_be_for_bringing_a_note_down(model):
    first, *_ = model.suggest(Brief(mask="Beany", bases=("pea",), max_flavourings=1), n=3)
    assert first.purpose == "mask"
    assert set(first.recipe.doses) == {"cocoa"}
    reason = first.reasons[0]
    assert reason.share < reason.share_plain
    liking = model.predict([first.recipe, Recipe("pea")])["liking"]
    assert reason.points == pytest.approx(liking[0] - liking[1], abs=0.3)
    assert str(reason).startswith("mask: beany is expected in ")
    others = model.suggest(Brief(mask="beany", bases=("pea",), max_flavourings=1))
    assert not any("violet" in one.recipe.doses for one in others)
    with pytest.raises(BriefError, match="nothing that is allowed brings beany down"):
        model.suggest(Brief(mask="beany", bases=("pea",), on_hand=("violet",)))


TOAST = Rule(
    id="toast",
    summary="Cocoa covers a beany note",
    source="invented",
    acts_on="off-note",
    note="beany",
    prior_mean=-0.8,
    prior_sd=0.3,
    feature=lambda table: table.any(table.speaks_of("cocoa")) * 1.0,
    because=lambda recipe: "it does",
)


def test_a_rule_is_a_prior_on_a_note_that_cups_correct():
    never = {("pea", None): 0.8, ("pea", "plum"): 0.8}
    cups = [Recipe("pea", {f: None}) for f in ("plum", "cocoa")]
    without = pairing.learn(BASES, FLAVOURINGS, log(never))
    told = pairing.learn(BASES, FLAVOURINGS, log(never), rules=[TOAST])
    (plum, cocoa), (plum_before, before) = (m.off_notes(cups)["probability"] for m in (told, without))
    assert cocoa < before - 0.1
    assert plum == pytest.approx(plum_before)
    assert told.rule_weights().loc[0, "learned_mean"] == pytest.approx(-0.8)
    against = pairing.learn(BASES, FLAVOURINGS, log(never | {("pea", "cocoa"): 0.95}, cups=60), rules=[TOAST])
    row = against.rule_weights().loc[0]
    assert row["learned_mean"] > -0.7
    assert row["learned_sd"] < 0.3
    assert against.off_notes(cups)["probability"][1] > 0.8


def test_a_rule_holds_after_the_swallow_too():
    late = log(KNOWN).assign(off_notes=lambda rows: rows["off_notes"].str.replace("beany:2", "beany:2@aftertaste"))
    late = late[late["flavouring_id"] != "cocoa"]
    model = pairing.learn(BASES, FLAVOURINGS, late, rules=[TOAST])
    found = model.off_notes([Recipe("pea", {"cocoa": 2.0}), Recipe("pea", {"plum": 2.0})])
    assert set(found["note"]) == {"beany@aftertaste"}
    assert found["probability"][0] < found["probability"][1] - 0.1


def test_what_stays_is_learned_from_the_cups_that_were_asked_about():
    rows = log({("pea", None): 0.0, ("pea", "plum"): 0.0}, cups=20)
    plain = rows["flavouring_id"].isna()
    rows["off_notes"] = np.where(plain, "none@aftertaste", "sweet:2@aftertaste")
    rows.loc[rows.index[10:20].append(rows.index[30:]), "off_notes"] = None  # nobody asked: no answer
    asked = pairing.learn(BASES, FLAVOURINGS, rows).off_notes([Recipe("pea"), Recipe("pea", {"plum": 2.0})])
    assert set(asked["note"]) == {"sweet@aftertaste"}
    assert asked["probability"][0] < 0.25
    assert asked["probability"][1] > 0.75
    only_found = rows.assign(off_notes=rows["off_notes"].replace("none@aftertaste", None))
    never = pairing.learn(BASES, FLAVOURINGS, only_found).off_notes([Recipe("pea", {"plum": 2.0})])
    assert never["probability"][0] < 0.65


@pytest.mark.parametrize(("acts_on", "note"), [("off-note", ""), ("off-note", "bitter:2"), ("liking", "beany")])
def test_a_rule_on_a_note_names_one_and_no_other_does(acts_on, note):
    with pytest.raises(PluginError, match="note is"):
        hosted_rule("lab", replace(TOAST, acts_on=acts_on, note=note))


def test_a_seasoning_is_no_flavouring():
    salted = FLAVOURINGS.assign(role=["flavour", "flavour", "seasoning"])
    model = pairing.learn(BASES, salted, log(KNOWN))
    assert not any("plum" in one.recipe.doses for one in model.suggest(Brief(), n=20))
    with_it = model.suggest(Brief(must_have=("plum",), max_flavourings=1), n=20)
    assert any(set(one.recipe.doses) == {"plum", "cocoa"} for one in with_it)


def test_a_note_on_a_later_row_of_a_reading_counts():
    rows = pd.DataFrame(
        {
            "trial_id": ["a", "a", "b", "b"],
            "base_id": "oat",
            "flavouring_id": ["plum", "violet"] * 2,
            "dose_g_per_kg": 1.0,
            "liking": [5.0, 5.0, 6.0, 6.0],
            "off_notes": [None, "beany:2", "soapy:1", "beany:1"],
        }
    )
    assert pairing.learn(BASES, FLAVOURINGS, rows).log.off_notes.tolist() == ["beany:2", "soapy:1;beany:1"]
