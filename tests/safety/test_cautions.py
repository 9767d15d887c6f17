"""Allergens, avoidance, cautions, intake: nothing unknown passes, nothing is a green light."""

import math

import pytest

from pairing.errors import QuantityError, UnknownIdError
from pairing.model.base import Base
from pairing.model.caution import NONE_KNOWN, SEVERITIES
from pairing.model.cup import Cup
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.allergens import clash, must_declare
from pairing.nutrition.content import content
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions
from pairing.safety.limits import daily_limit_mg
from pairing.safety.swallowed import tally

CLEAN = {"food_use": "yes", "sodium_mg_per_g": 0, "caffeine_mg_per_g": 0, "ethanol_g_per_g": 0}
CLEAN |= {"sweeteners": "none", "allergens": "none"}
SPICE = Flavouring(flavouring_id="clove", name="Clove", tags="spicy")
WATER = Base(
    base_id="water",
    name="Spring water",
    energy_kcal_per_100g=0,
    sodium_mg_per_100g=0,
    caffeine_mg_per_100g=0,
    ethanol_g_per_100g=0,
    sweeteners="none",
    density_g_per_ml=1,
    allergens="none",
    fat_g_per_100g=0,
    protein_g_per_100g=0,
    tags="not perishable",
)


def flavouring(item_id="x", **facts):
    return Flavouring(flavouring_id=item_id, name=item_id.title(), **{**CLEAN, **facts})


def texts(found, kind=None):
    return " | ".join(c.text for c in found if kind is None or c.kind == kind)


def of(item, dose=10.0, tasters=(), jurisdiction="EU", base=WATER, **more):
    people = [t for t in tasters if isinstance(t, Taster)]
    shelf = Shelf.of([base], [item, SPICE] if item.flavouring_id != "clove" else [item], people)
    return cautions(Recipe(base.base_id, {item.flavouring_id: dose}), shelf, tasters, jurisdiction=jurisdiction, **more)


@pytest.mark.parametrize(
    ("declared", "avoided"),
    [
        ("milk", "dairy"),
        ("whey", "milk"),
        ("hazelnut", "nuts"),
        ("may contain almonds", "tree nuts"),
        ("gluten", "wheat"),
        ("barley", "gluten"),
        ("soya lecithin", "soy"),
        ("sulfites", "sulphites"),
        ("prawns", "prawns"),
        ("kiwi", "kiwi"),
        ("barley", "wheat"),
        ("almond", "hazelnut"),
        ("ground nuts", "peanut"),
        ("ground nuts", "nuts"),
    ],
)
def test_allergens_clash_by_meaning(declared, avoided):
    assert clash({declared}, {avoided}) == {declared}


@pytest.mark.parametrize(
    ("declared", "avoided"), [("coconut", "nuts"), ("nutmeg", "nuts"), ("milk", "soy"), ("kiwi", "egg")]
)
def test_allergens_that_do_not_clash(declared, avoided):
    assert clash({declared}, {avoided}) == frozenset()


def test_lists_differ_by_jurisdiction():
    assert must_declare({"celery", "milk"}, "EU") == {"celery", "milk"}
    assert must_declare({"celery", "milk"}, "US") == {"milk"}


ANA = Taster(taster="ana", avoid_allergens="dairy", avoid="ethanol;caffeine;aspartame;clove;spicy;propylene glycol")


@pytest.mark.parametrize(
    ("facts", "reason"),
    [
        ({"allergens": "whey"}, "contains whey"),
        ({"allergens": None}, "x has allergens that are unknown"),
        ({"allergens": "Unknown"}, "x has allergens that are unknown"),
        ({"allergens": "n/a"}, "x has allergens that are unknown"),
        ({"allergens": "Milch"}, "x contains milch"),
        ({"allergens": "yes"}, "x has allergens that are not all known"),
        ({"allergens": "soy;?"}, "x has allergens that are not all known"),
        ({"allergens": "contains milk"}, "contains contains milk"),
        ({"allergens": "clove", "tags": "none"}, "contains clove"),
        ({"ethanol_g_per_g": 0.1}, "contains ethanol"),
        ({"ethanol_g_per_g": None}, "may contain ethanol"),
        ({"ethanol_g_per_g": None, "carrier": "alcohol"}, "contains ethanol"),
        ({"caffeine_mg_per_g": 1}, "contains caffeine"),
        ({"caffeine_mg_per_g": None}, "may contain caffeine"),
        ({"sweeteners": "aspartame:1", "carrier": "water"}, "contains aspartame"),
        ({"sweeteners": None, "carrier": "water"}, "may contain aspartame"),
        ({"tags": "spicy", "carrier": "water"}, "tagged spicy"),
        ({"carrier": "pg:0.5"}, "contains propylene glycol"),
        ({"carrier": None}, "may contain propylene glycol"),
    ],
)
def test_what_must_not_reach_a_taster(facts, reason):
    item = flavouring(**{"carrier": "water", **facts})
    found = forbidden(["x"], Shelf.of([WATER], [item, SPICE], [ANA]), "ana")
    assert any(reason in str(r) for r in found), found


def test_what_may_reach_a_taster():
    item = flavouring(carrier="water", tags="fruity")
    assert forbidden(Recipe("water", {"x": 1}), Shelf.of([WATER], [item, SPICE], [ANA]), ANA) == ()


def test_ids_are_avoided_and_unknown_ones_refused():
    shelf = Shelf.of([WATER], [flavouring("clove", carrier="water"), flavouring("hot", tags="spicy")], [ANA])
    assert [str(r) for r in forbidden(["clove"], shelf, "ana")] == ["clove is avoided"]
    with pytest.raises(UnknownIdError):
        forbidden(["cloves"], shelf, "ana")
    with pytest.raises(UnknownIdError):
        forbidden(["clove"], shelf, "anna")


def test_a_person_without_wishes_has_none():
    item = flavouring(allergens=None, ethanol_g_per_g=None)
    assert forbidden(["x"], Shelf.of([WATER], [item]), Taster(taster="me")) == ()


def test_nothing_known_is_worded_as_such_never_as_safe():
    assert of(flavouring()) == ()
    assert "safe" not in NONE_KNOWN


def test_every_caution_has_source_jurisdiction_and_its_limits():
    item = flavouring(
        form="extract",
        allergens="milk",
        ethanol_g_per_g=0.5,
        sweeteners="aspartame:400;xylitol:300;stevia",
        max_dose_g_per_kg=1,
    )
    found = of(item, 100, [ANA, Taster(taster="bo", body_mass_kg=30), "stranger"])
    assert len(found) > 8
    assert {c.kind for c in found} >= {
        "allergen",
        "person",
        "dose",
        "ethanol",
        "intake",
        "label",
        "concentrate",
        "sharing",
    }
    for caution in found:
        assert caution.text
        assert caution.source
        assert caution.cannot_know
        assert caution.jurisdiction in ("EU", "US", "any")
    ranks = [SEVERITIES.index(c.severity) for c in found]
    assert ranks == sorted(ranks)


def test_allergens_are_always_shown_and_unknown_ones_said():
    assert "contains milk (x)" in texts(of(flavouring(allergens="milk")), "allergen")
    assert "allergens are unknown: x" in texts(of(flavouring(allergens=None)), "allergen")
    assert "not on the US list" in texts(of(flavouring(allergens="celery"), jurisdiction="US"))


def test_a_clash_stops():
    found = of(flavouring(allergens="butter", carrier="water"), tasters=[ANA])
    assert found[0].severity == "stop"
    assert "not for ana" in found[0].text


def test_a_stranger_is_asked():
    assert "stranger" in texts(of(flavouring(), tasters=["stranger"]), "person")


def test_doses_above_the_suppliers_maximum_stop():
    assert not texts(of(flavouring(max_dose_g_per_kg=10), 10), "dose")
    found = of(flavouring(max_dose_g_per_kg=10), 10.1)
    assert found[0].severity == "stop"
    assert "above the supplier's maximum of 10 g/kg" in found[0].text


@pytest.mark.parametrize(
    ("doses", "says"),
    [
        ({"x": 1.0, "x-1in10": 10.0}, "x, x-1in10 are one flavouring: together 200 % of the supplier's maximum"),
        ({"x": 0.5, "x-2": 1.1}, "x, x-2 are one flavouring: together 105 %"),
        ({"x": 0.5, "x-1in10": 5.0}, ""),
        ({"x-1in10": 10.5}, "x-1in10: 10.5 g/kg is above the supplier's maximum of 10 g/kg"),
        ({"x": 0.5, "y": 0.9}, ""),
    ],
)
def test_a_maximum_is_shared_by_all_that_is_one_flavouring(doses, says):
    items = [
        flavouring("x", max_dose_g_per_kg=1),
        flavouring("x-1in10", version_of="x"),
        flavouring("x-2", version_of="x", max_dose_g_per_kg=2),
        flavouring("y", max_dose_g_per_kg=1),
    ]
    found = [c for c in cautions(Recipe("water", doses), Shelf.of([WATER], items)) if c.kind == "dose"]
    assert all(c.severity == "stop" for c in found)
    assert len(found) == bool(says)
    assert says in texts(found)


def test_what_is_not_known_to_be_food_stops():
    assert of(flavouring(food_use="unknown"))[0].severity == "stop"


@pytest.mark.parametrize(("jurisdiction", "wording"), [("EU", "1.2 %"), ("US", "0.5 %")])
def test_ethanol_is_always_shown(jurisdiction, wording):
    found = texts(of(flavouring(ethanol_g_per_g=0.5), 1, jurisdiction=jurisdiction), "ethanol")
    assert "g ethanol" in found
    assert "% by volume" in found
    assert wording in found
    assert "ethanol is unknown: x" in texts(of(flavouring(ethanol_g_per_g=None)), "ethanol")
    assert not texts(of(flavouring()), "ethanol")


def test_intake_goes_by_the_lightest_person_present():
    item = flavouring(sweeteners="sucralose:10")
    light, heavy = Taster(taster="l", body_mass_kg=50), Taster(taster="h", body_mass_kg=90)
    found = texts(of(item, 100, [light, heavy]), "intake")
    assert "for l (50 kg)" in found
    assert "750 mg a day" in found
    assert "70 kg assumed" in texts(of(item, 100), "intake")


def test_a_body_mass_of_zero_is_refused():
    for wrong in (0, -1, math.nan, 1000):
        with pytest.raises(QuantityError, match="2 to 400"):
            daily_limit_mg("sucralose", wrong)


def test_phenylketonuria():
    found = of(flavouring(sweeteners="Aspartame"))
    assert "phenylalanine" in texts(found, "label")
    assert "not ruled out" in texts(of(flavouring(sweeteners=None, sweetened="yes")), "label")
    assert not texts(of(flavouring(sweeteners=None, sweetened="no")), "label")


def test_single_caffeine_and_high_sodium():
    found = texts(of(flavouring(caffeine_mg_per_g=20, sodium_mg_per_g=80), 100), "intake")
    assert "at once, at most 200 mg" in found
    assert "sodium" in found


def test_statements_that_eu_labels_must_carry():
    """Published: Regulation (EU) 1169/2011, Annex III: above 150 mg/l caffeine, above 10 % polyols."""
    assert not texts(of(flavouring(caffeine_mg_per_g=15), 10), "label")
    assert "high caffeine content" in texts(of(flavouring(caffeine_mg_per_g=15.1), 10), "label")
    assert "laxative" in texts(of(flavouring(polyols_g_per_g=1), 101), "label")
    assert "laxative" in texts(of(flavouring(sweeteners="xylitol:1000"), 101), "label")
    assert "laxative" in texts(of(flavouring(sweeteners="E 967:500", carrier="sorbitol:0.4"), 120), "label")
    assert "14 % polyols" in texts(of(flavouring(carrier="glycerol:0.9", polyols_g_per_g=0), 150), "label")
    assert "laxative" not in texts(of(flavouring(carrier="glycerol:0.9", polyols_g_per_g=0.9), 110), "label")
    assert "laxative" not in texts(of(flavouring(carrier="glycerol:0.9"), 150, jurisdiction="US"), "label")
    assert not texts(of(flavouring(polyols_g_per_g=1), 99), "label")


@pytest.mark.parametrize(
    ("tag", "says"),
    [("quinine", "quinine"), ("liquorice", "high blood pressure"), ("tonka", "coumarin"), ("menthol", "menthol")],
)
@pytest.mark.parametrize("jurisdiction", ["EU", "US"])
def test_tagged_substances_of_unknown_amount_are_named(tag, says, jurisdiction):
    assert says in texts(of(flavouring(tags=tag), jurisdiction=jurisdiction))


def test_cyclamate_stops_in_the_us_only():
    item = flavouring(sweeteners="cyclamate:1")
    assert of(item, jurisdiction="US")[0].severity == "stop"
    assert all(c.severity != "stop" for c in of(item, jurisdiction="EU"))


def test_time_sharing_concentrates_and_medical_use():
    milk = Base(base_id="milk", name="Milk", tags="meal-replacement", allergens="milk")
    item = flavouring(form="oil drops", carrier="oil")
    found = of(item, 1, ["a", "b"], base=milk)
    for words in ("2 h", "separate portions", "undiluted x", "ask a professional"):
        assert words in texts(found)
    assert "4 h" in texts(of(item, 1, base=milk, jurisdiction="US"), "time")
    assert not texts(of(item, 1), "time")


def test_what_is_not_stated_is_said():
    assert "caffeine is not stated, so not counted: x" in texts(of(flavouring(caffeine_mg_per_g=None)), "unknown")


def test_contents_by_hand():
    item = flavouring(sweeteners="Reb A:10;acesulfame K:2", carrier="propylene glycol:0.5", sodium_mg_per_g=3)
    found = content({"x": 4.0, "water": 200.0}, Shelf.of([WATER], [item]))
    assert found.mg["steviol glycosides"] == pytest.approx(40 * 318.45 / 967.01)
    assert found.mg["acesulfame k"] == 8
    assert found.mg["propylene glycol"] == 2000
    assert found.mg["sodium"] == 12
    assert not found.unmeasured
    assert content({"x": 0.0}, Shelf.of([], [item])).mg == {}


def test_tally_adds_the_sips_of_one_taster():
    item = flavouring(energy_kcal_per_g=3, caffeine_mg_per_g=10, ethanol_g_per_g=0.2, sweeteners="sucralose:5")
    shelf = Shelf.of([WATER], [item], [Taster(taster="ana", body_mass_kg=60)])
    cup = Cup("water", 90).add("x", g=10).sip(g=20, taster="ana").sip(g=30, taster="bo")
    found = tally([cup, cup.sip(g=10, taster="ana")], shelf, "ana")
    assert found.drink_g == pytest.approx(50)
    assert found.grams == pytest.approx({"water": 45, "x": 5})
    assert found.kcal == pytest.approx(15)
    assert found.caffeine_mg == pytest.approx(50)
    assert found.ethanol_g == pytest.approx(1)
    assert found.substances_mg["sucralose"] == pytest.approx(25)
    assert tally([], shelf, "ana").drink_g == 0


def test_tally_keeps_the_unknown_unknown_and_warns_at_limits():
    item = flavouring(caffeine_mg_per_g=None, sweeteners="sucralose:100", energy_kcal_per_g=1)
    shelf = Shelf.of([WATER], [item], [Taster(taster="ana", body_mass_kg=60)])
    cup = Cup("water", 90).add("x", g=10).sip(g=90, taster="ana")
    found = tally([cup], shelf, "ana")
    assert found.caffeine_mg is None
    assert found.at_least["caffeine_mg"] == 0
    assert "sucralose" in texts(found.cautions)
    assert found.cautions[0].severity == "note", "900 mg are the limit, not above it"
    assert tally([cup.sip(g=1, taster="ana")], shelf, "ana").cautions[0].severity == "warn"


def test_a_word_that_keeps_nothing_out_is_said():
    tea = flavouring("tea", tags="smoky", carrier="water", allergens="kiwi")
    understood = Taster(taster="ana", avoid_allergens="milk;kiwi", avoid="caffeine;smoky;tea;ethanol;water;nuts")
    assert "avoids" not in texts(of(tea, tasters=[understood]), "person").replace("is avoided", "")
    meant = Taster(taster="ana", avoid_allergens="mlik", avoid="caffein")
    assert "who avoids 'mlik': nobody here can place that word" in texts(of(tea, tasters=[meant]), "person")
    assert of(tea, tasters=[meant])[0].severity == "stop"
