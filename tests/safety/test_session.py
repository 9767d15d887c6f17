"""What is swallowed in a session, an evening or a day is summed, and a logged cup without sips is not zero."""

import pytest
from plan_fakes import Ladder

import pairing
from pairing import Base, Bench, Cup, Flavouring, Recipe
from pairing.errors import QuantityError
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.plan.ladder import next_addition
from pairing.safety.session import SIP_G, session_cautions, tallies

PLAIN = {"sodium_mg_per_g": 0, "ethanol_g_per_g": 0, "sweeteners": "none", "allergens": "none", "food_use": "yes"}
OAT = Base(
    base_id="oat", name="Oat drink", caffeine_mg_per_100g=0, ethanol_g_per_100g=0, sweeteners="none", allergens="none"
)
GUARANA = Flavouring(
    flavouring_id="guarana", name="Guarana", caffeine_mg_per_g=50, label_dose_g_per_kg=5, max_dose_g_per_kg=50, **PLAIN
)
SPIRIT = Flavouring(
    flavouring_id="spirit", name="Spirit", carrier="ethanol:0.8", caffeine_mg_per_g=0, label_dose_g_per_kg=5,
    **{**PLAIN, "ethanol_g_per_g": 0.8},
)  # fmt: skip
ANA = Taster(taster="ana", body_mass_kg=60, avoid_allergens="none")
SHELF = Shelf.of([OAT], [GUARANA, SPIRIT], [ANA])
MILD = Recipe("oat", {"guarana": 8.0})


def severities(found, substance):
    return [c.severity for c in found if c.kind == "intake" and c.words.startswith(substance)]


def test_one_cup_passes_and_twelve_of_them_are_summed():
    """One is 101 mg; published: more than 3 mg/kg or 200 mg at once, EFSA Journal 2015;13(5):4102."""
    assert "stop" not in severities(pairing.cautions(MILD, SHELF, ["ana"]), "caffeine")
    found = session_cautions([(MILD, 250.0)] * 12, SHELF, ["ana"])
    assert severities(found, "caffeine") == ["stop", "stop"]
    assert found[0].figures["amount"] == pytest.approx(12 * 0.008 * 250 * 50)
    assert found[0].figures["most"] == 180


def test_ethanol_of_an_evening_is_summed():
    """From memory: Dietary Guidelines for Americans 2020–2025, a standard drink of 14 g, at most two a day."""
    cup = Recipe("oat", {"spirit": 25.0})
    assert "stop" not in severities(pairing.cautions(cup, SHELF, ["ana"]), "ethanol")
    assert severities(session_cautions([(cup, 250.0)] * 12, SHELF, ["ana"]), "ethanol") == ["stop"]


def test_a_ladder_adds_no_more_than_what_is_left_of_the_day():
    model, cup = Ladder(guarana=8.0), Cup("oat", 250, shelf=SHELF)
    model.shelf = SHELF
    free, left = (
        next_addition(model, cup, "guarana", tasters=["ana"], already=already).add_g
        for already in (None, {"ana": {"caffeine": 370}})
    )
    assert 50 * left <= 400 - 370 < 50 * free


def test_a_ladder_warns_of_the_cup_as_it_will_be_after_the_addition():
    model, cup = Ladder(spirit=90.0, guarana=8.0), Cup("oat", 250, shelf=SHELF).add("guarana", g=2).add("spirit", g=10)
    model.shelf = SHELF
    advice = next_addition(model, cup, "spirit", tasters=["ana"], override=True)
    after = Recipe("oat", dict(cup.add("spirit", g=advice.add_g).dose_g_per_kg))
    expected = pairing.cautions(after, SHELF, ["ana"], serving_g=250)
    assert [c.kind for c in advice.cautions] == [c.kind for c in expected]
    for mine, other in zip(advice.cautions, expected, strict=True):
        assert dict(mine.figures) == pytest.approx(dict(other.figures), rel=1e-7)


def test_what_was_swallowed_already_counts_towards_the_day():
    before = {"ana": {"caffeine": 350}}
    found = pairing.cautions(MILD, SHELF, ["ana"], already=before)
    assert severities(found, "caffeine") == ["stop"]
    assert "today with this cup" in found[0].text
    assert severities(pairing.cautions(MILD, SHELF, ["ana"], already={"bo": {"caffeine": 350}}), "caffeine") == ["note"]
    assert severities(pairing.cautions(MILD, SHELF, already=before), "caffeine") == ["stop"], "nobody is named"
    assert severities(pairing.cautions(MILD, SHELF, ["ana"], already={"caffeine_mg": 350}), "caffeine") == ["stop"]
    tally = tallies([Cup("oat", 250, shelf=SHELF).add("guarana", g=7).sip(200, taster="ana")], SHELF)["ana"]
    assert severities(pairing.cautions(MILD, SHELF, ["ana"], already=tally), "caffeine") == ["note"]
    (caffeine,) = (c for c in pairing.cautions(MILD, SHELF, ["ana"], already=tally) if c.words.startswith("caffeine:"))
    assert caffeine.figures["amount"] == pytest.approx(tally.mg["caffeine"] + 0.008 * 250 / 0.992 * 50)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (12, "already is 12"),
        ({"ana": 12, "bo": {"caffeine": 1}}, "ana swallowed is 12"),
        ({"ana": {"caffeine": -1}}, "ana swallowed -1 of caffeine"),
        ({"ana": {"caffeine": "much"}}, "'much'"),
        ({"ana": {"cafeine": 1}}, "did you mean caffeine?"),
    ],
)
def test_nonsense_about_what_was_swallowed_is_refused(wrong, says):
    with pytest.raises(QuantityError, match=r"swallowed|already") as refused:
        pairing.cautions(MILD, SHELF, ["ana"], already=wrong)
    assert says in str(refused.value)


def test_a_full_glass_counts_as_all_that_is_left():
    cup = Cup("oat", 198.0, shelf=SHELF).add("guarana", g=2.0).sip(20.0, taster="ana")
    cup = cup.read(taster="ana", liking=7, glass="full")
    found = tallies([cup], SHELF)["ana"]
    assert found.drink_g == pytest.approx(200.0)
    assert found.substances_mg["caffeine"] == pytest.approx(100.0)
    both = tallies([cup.read(taster="ben", liking=6, glass="full")], SHELF)
    assert both["ben"].drink_g == pytest.approx(90.0)


def test_a_cup_that_was_judged_without_a_sip_counts_as_two_sips(tmp_path):
    bench = Bench.create(tmp_path / "b")
    bench.keep(OAT, GUARANA)
    cup = Cup("oat", 250, shelf=bench.shelf()).add("guarana", g=2)
    before, after = "2000-01-01", "9999-01-01"
    bench.log(cup.read(strength={"guarana": 3}, taster="ana"), ended="right")
    bench.log(cup.sip(100, taster="bo").read(liking=5, taster="bo"), trial_id="t2")
    found = bench.swallowed(before)
    assert found["ana"].drink_g == pytest.approx(SIP_G)
    assert found["bo"].mg["caffeine"] == pytest.approx(100 * 100 / 252)
    bench.undo()
    assert set(bench.swallowed(before)) == {"ana"}
    assert bench.swallowed(after) == {}
