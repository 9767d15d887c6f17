"""Cautions against the opinions and laws that they repeat: just below, at and just above each figure."""

import pytest

import pairing
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster

KNOWN = {"allergens": "none", "food_use": "yes", "sweeteners": "none", "ethanol_g_per_g": 0, "sodium_mg_per_g": 0}
KNOWN |= {"caffeine_mg_per_g": 0, "tags": "label-read"}
WATER = Base(
    base_id="water", name="Water", allergens="none", caffeine_mg_per_100g=0, ethanol_g_per_100g=0, sweeteners="none",
    sodium_mg_per_100g=0, fat_g_per_100g=0, protein_g_per_100g=0, density_g_per_ml=0.9982, tags="not perishable",
)  # fmt: skip
PEOPLE = {
    "adult": Taster(taster="adult", body_mass_kg=70, age_years=40),
    "light": Taster(taster="light", body_mass_kg=50, age_years=40),
    "child": Taster(taster="child", body_mass_kg=20, age_years=6),
    "infant": Taster(taster="infant", body_mass_kg=7, age_years=0.6),
}


def gravest(mg, who="adult", law="EU", **facts):
    """Return how grave an intake of so many mg of what fills 1 mg/g of a flavouring is."""
    item = Flavouring(flavouring_id="x", name="Drops", **{**KNOWN, **facts})
    shelf = Shelf.of([WATER], [item], PEOPLE.values(), jurisdiction=law)
    grams = mg / 100.0  # the facts below hold 100 mg in 1 g
    recipe = Recipe("water", {"x": 1000 * grams / (250 + grams)})
    found = pairing.cautions(recipe, shelf, [who], serving_g=250)
    return {c.severity for c in found if c.kind == "intake"} - {"note"}


@pytest.mark.parametrize(
    ("facts", "most", "who", "above", "law"),
    [
        # EFSA Journal 2015;13(5):4102: 200 mg, and 3 mg/kg body mass, at once
        ({"caffeine_mg_per_g": 100}, 200, "adult", "stop", "EU"),
        ({"caffeine_mg_per_g": 100}, 150, "light", "stop", "EU"),
        ({"caffeine_mg_per_g": 100}, 60, "child", "stop", "US"),
        # UK Food Standards Agency, 2025: 125 mg/kg body mass of glycerol within an hour, for children
        ({"carrier": "glycerol:0.1"}, 2500, "child", "stop", "EU"),
        # EFSA Journal 2018;16(4):5235: 25 mg/kg; 2023;21(12):8430: 500 mg/kg; 2025;23(7):e9480: 10 mg/kg
        ({"carrier": "propylene glycol:0.1"}, 1750, "adult", "warn", "EU"),
        ({"sweeteners": "erythritol:100"}, 10_000, "child", "warn", "EU"),
        ({"sweeteners": "neotame:100"}, 700, "adult", "warn", "EU"),
        # FDA: 0.3 mg/kg neotame, 5 mg/kg sucralose; EFSA 2026: 15 mg/kg sucralose
        ({"sweeteners": "neotame:100"}, 21, "adult", "warn", "US"),
        ({"sweeteners": "sucralose:100"}, 350, "adult", "warn", "US"),
        ({"sweeteners": "sucralose:100"}, 1050, "adult", "warn", "EU"),
        # EFSA Journal 2008;793: 0.1 mg/kg coumarin; WHO 2012: 2 g sodium a day
        ({"sweeteners": "coumarin:100"}, 7, "adult", "warn", "EU"),
        ({"sodium_mg_per_g": 100}, 2000, "adult", "warn", "EU"),
    ],
)
def test_at_a_limit_nothing_is_said_above_it_is(facts, most, who, above, law):
    """Published: the sources beside each row; what is acute stops, an average over a lifetime warns."""
    assert above not in gravest(most, who, law, **facts)
    assert above in gravest(most * 1.001, who, law, **facts)


def test_an_adult_may_have_a_childs_glycerol():
    """Published: UK Food Standards Agency, 2025: the advice is about children."""
    assert gravest(9000, "adult", carrier="glycerol:0.1") == set()


@pytest.mark.parametrize("name", ["cyclamate", "coumarin", "safrole", "asarone"])
def test_what_is_not_permitted_in_the_us_stops_at_any_amount(name):
    """Published: 21 CFR 189.135; from memory: 21 CFR 189.130, 189.180, 189.110."""
    assert "stop" in gravest(0.1, law="US", sweeteners=f"{name}:100")


@pytest.mark.parametrize(
    ("name", "mg_per_kg"),
    [("thujone", 0.5), ("estragole", 10), ("pulegone", 20), ("quassin", 0.5), ("methyleugenol", 1)],
)
def test_limits_of_annex_iii_in_a_drink(name, mg_per_kg):
    """From memory: Regulation (EC) No 1334/2008, Annex III B, non-alcoholic drinks."""
    for factor, said in ((0.99, False), (1.02, True)):
        drink_kg = 0.25
        assert ("stop" in gravest(factor * mg_per_kg * drink_kg, sweeteners=f"{name}:100")) == said


def test_much_more_is_said_as_so_many_times():
    """Computed: 4.2 g of propylene glycol are 2.4 times, 8.75 g 5 times 1750 mg (EFSA Journal 2018;16(4):5235)."""
    for mg, said in ((4200, "240 % of"), (8750, "5 times")):
        item = Flavouring(flavouring_id="x", name="Drops", **{**KNOWN, "carrier": "propylene glycol:0.1"})
        shelf = Shelf.of([WATER], [item], PEOPLE.values())
        grams = mg / 100
        found = pairing.cautions(Recipe("water", {"x": 1000 * grams / (250 + grams)}), shelf, ["adult"])
        assert any(said in c.text for c in found), [c.text for c in found]


@pytest.mark.parametrize(
    ("name", "about", "law"),
    [
        ("Muskatnuss", "safrole", "1334/2008"),
        ("Sassafras bark", "safrole", "1334/2008"),
        ("Wermut", "thujone", "1334/2008"),
        ("Poleiminze", "pulegone", "1334/2008"),
        ("Kalmus", "asarone", "1334/2008"),
        ("Tonkabohne", "coumarin", "1334/2008"),
        ("Estragon", "estragole", "1334/2008"),
        ("Comfrey root", "pyrrolizidine", "2023/915"),
        ("Kava", "kava", "FDA"),
        ("Chinarinde", "quinine", "172.575"),
        ("Lakritz", "glycyrrhizin", "1169/2011"),
        ("Tartrazine yellow", "colour", "1333/2008"),
        ("E 171 white", "titanium dioxide", "2022/63"),
    ],
)
def test_a_name_is_asked_about_with_its_law(name, about, law):
    """From memory: the regulations named in each row."""
    item = Flavouring(flavouring_id="x", name=name, **{**KNOWN, "tags": "none"})
    asked = [c for c in pairing.cautions(Recipe("water", {"x": 1.0}), Shelf.of([WATER], [item])) if c.kind == "name"]
    assert any(about in c.text and law in c.source for c in asked), [(c.text, c.source) for c in asked]
    read = Flavouring(flavouring_id="x", name=name, **KNOWN)
    assert not [c for c in pairing.cautions(Recipe("water", {"x": 1.0}), Shelf.of([WATER], [read])) if c.kind == "name"]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Aspartame drops", "suggests aspartame, which is not stated"),
        ("Vitamin D3 drops", "vitamin"),
        ("Satay drops", "suggests peanut, which is not declared"),
    ],
)
def test_what_no_column_states_is_asked_about(name, said):
    """Common practice (no source): a declaration that its own name contradicts is a slip."""
    item = Flavouring(flavouring_id="x", name=name, **{**KNOWN, "tags": "none"})
    found = pairing.cautions(Recipe("water", {"x": 1.0}), Shelf.of([WATER], [item]))
    assert any(said in c.text for c in found if c.severity == "warn"), [c.text for c in found]


def test_a_neat_essential_oil_stops_by_the_drop():
    """Common practice (no source): some drops at once are too much, a carrier or a written maximum answers it."""
    for name in ("Lavender oil", "Lavendelöl", "Rose absolute", "Essential oil of thyme"):
        for more, stops in (({}, True), ({"carrier": "water:0.9"}, False), ({"max_dose_g_per_kg": 10}, False)):
            item = Flavouring(flavouring_id="x", name=name, **KNOWN, **more)
            found = pairing.cautions(Recipe("water", {"x": 2.0}), Shelf.of([WATER], [item]))
            assert any(c.severity == "stop" for c in found) == stops, (name, more)


def test_a_dilution_that_does_not_say_how_strong_it_is_may_be_as_strong():
    """Published: EFSA Journal 2015;13(5):4102; what nobody states of a dilution may be all that its bottle holds."""
    pure = Flavouring(flavouring_id="pure", name="Roast", **{**KNOWN, "caffeine_mg_per_g": 1000})
    facts = {**KNOWN, "caffeine_mg_per_g": None, "version_of": "pure"}
    thin = Flavouring(flavouring_id="thin", name="Roast 1 in 10", **facts)
    found = pairing.cautions(Recipe("water", {"thin": 20.0}), Shelf.of([WATER], [pure, thin]))
    assert found[0].severity == "stop"


def test_salt_by_the_spoon_stops():
    """Common practice (no source): 0.5 to 1 g of salt per kg has killed; the limit is a quarter of a gram."""
    assert "stop" in gravest(7100, sodium_mg_per_g=100)
    assert "stop" not in gravest(6900, sodium_mg_per_g=100)
    assert "stop" in gravest(750, "infant", sodium_mg_per_g=100)


def test_an_infant_is_never_passed_over():
    """From memory: WHO and CDC, nothing but milk before the sixth month, no honey before the twelfth."""
    shelf = Shelf.of([WATER], [], PEOPLE.values())
    assert any("infant" in c.text for c in pairing.cautions(Recipe("water"), shelf, ["infant"]))
