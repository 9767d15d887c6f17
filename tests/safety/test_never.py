"""What is never suggested, whatever the label says: poisons and what is no food, by name, carrier, tag or part.

What is poisonous is common practice (no source) or from memory, as the table of names says beside each row.
"""

import pandas as pd
import pytest

from pairing import Bench, Brief, Cup
from pairing.cli import main
from pairing.errors import PairingError
from pairing.graph.build import graph
from pairing.graph.queries import Questions
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.names import may_be_suggested, never_for
from pairing.safety.cautions import cautions

FOOD = {"food_use": "yes", "sodium_mg_per_g": 0, "caffeine_mg_per_g": 0, "ethanol_g_per_g": 0, "acids_g_per_g": 0}
FOOD |= {"sweeteners": "none", "allergens": "none"}
WATER = Base(base_id="water", name="Spring water", sodium_mg_per_100g=0, ethanol_g_per_100g=0, allergens="none")


def bottle(name="Drops", **facts):
    return Flavouring(flavouring_id="x", name=name, **{**FOOD, **facts})


def stopped(item, *people, dose=0.2, base=WATER):
    shelf = Shelf.of([base], [item], people)
    names = [person.taster for person in people]
    return [c for c in cautions(Recipe(base.base_id, {"x": dose}), shelf, names) if c.severity == "stop"]


CARRIERS = ["isopropanol", "Isopropyl alcohol", "IPA", "propan-2-ol", "acetone", "monoethylene glycol", "MEG", "DEG"]
CARRIERS += ["diethylene glycol", "GBL", "gamma-butyrolactone", "DMSO", "methanol", "toluene", "denatured alcohol"]
CARRIERS += [
    "glycol",
    "ethylene glycol",
    "hexane",
    "methylated spirits",
    "Isopropylalkohol",
    "alcool isopropylique",
    "xylene",
]


@pytest.mark.parametrize("carrier", CARRIERS)
@pytest.mark.parametrize("amount", ["", ":0.9"])
def test_a_carrier_that_is_a_poison_stops_and_a_read_label_does_not_answer(carrier, amount):
    item = bottle(carrier=carrier + amount, tags="label-read")
    (found, *_) = stopped(item)
    assert found.kind == "no food"
    assert found.source
    assert not may_be_suggested(item, Shelf.of([], [item]))


@pytest.mark.parametrize("carrier", ["propylene glycol:0.9", "PG", "ethanol:0.1", "triacetin", "benzyl alcohol:0.01"])
def test_a_carrier_for_food_does_not(carrier):
    assert not [c for c in stopped(bottle(carrier=carrier)) if c.kind == "no food"]


PLANTS = ["Oleander", "Oleander blossom drops", "Yew", "Eibe", "Foxglove", "Fingerhut", "Lily of the valley", "Muguet"]
PLANTS += ["Maiglöckchen", "Datura", "Stechapfel", "Deadly nightshade", "Tollkirsche", "Belladonna", "Hemlock", "Cigüe"]
PLANTS += ["Aconite", "Monkshood", "Eisenhut", "Laburnum", "Goldregen", "Castor bean", "Nicotine", "Tobacco", "Tabak"]
PLANTS += ["Autumn crocus", "Herbstzeitlose", "Angel's trumpet", "Hellebore", "Mistletoe", "Rhododendron honey"]
PLANTS += ["Ethylene glycol", "Pökelsalz", "Paracetamol syrup", "Tea tree oil", "Teebaumöl", "Pennyroyal oil"]
PLANTS += ["Konwalia", "Cigüe", "Oleandro", "Naparstnica", "Vingerhoedskruid", "Stormhatt", "Idegran", "Puffer fish"]
PLANTS += [
    "Lilly of the valley",
    "Cyanide",
    "Rat poison",
    "Bleach",
    "Dry ice fog",
    "Ephedra herb",
    "Kratom",
    "Elderberry, raw",
    "Death cap",
]


@pytest.mark.parametrize("name", PLANTS)
def test_a_poison_by_its_name_stops_for_everybody_and_nothing_answers_for_it(name):
    for facts in ({}, {"tags": "label-read"}, {"tags": "label-read", "max_dose_g_per_kg": 50}):
        assert "no food" in {c.kind for c in stopped(bottle(name, **facts))}
    assert stopped(bottle("Plum drops", tags=name.casefold()))
    assert stopped(bottle("Plum"), base=Base(base_id="water", name=f"{name} cordial", ethanol_g_per_100g=0))


NO_FOOD = ["Vanilla perfume oil", "Rose e-liquid", "Candle scent plum", "Soap fragrance", "Room scent", "Fragrance oil"]
NO_FOOD += ["Duftöl Vanille", "Diffuser blend", "Lavender bath oil", "Massage oil"]


@pytest.mark.parametrize("name", NO_FOOD)
def test_what_is_not_made_for_drinking_stops_until_its_label_is_read(name):
    assert "no food" in {c.kind for c in stopped(bottle(name))}
    assert "no food" not in {c.kind for c in stopped(bottle(name, tags="label-read"))}


FINE = ["Almond", "Monk fruit", "Hexanal green", "Castor sugar", "Marshmallow root", "Eibisch", "Candlenut", "Mint"]
FINE += ["Kirsche", "Maracuja", "Star anise", "Mushroom powder", "Soapy violet", "Rosenwasser", "Café con leche"]
FINE += ["Horseradish", "Himalayan pink salt", "Tomato", "Rhubarb", "Elderflower", "Xylitol", "Delphinidin colour"]
FINE += ["Isopropyl-methoxypyrazine", "Amaranth grain", "Chervil", "Mandarin", "Taxi yellow lemon", "Golden syrup"]


@pytest.mark.parametrize("name", FINE)
def test_names_that_only_look_like_a_poison_are_let_be(name):
    item = bottle(name)
    assert "all" not in never_for(item, Shelf.of([], [item]))


def test_a_poison_inside_a_dilution_or_a_base_stops_too():
    yew = Flavouring(flavouring_id="yew", name="Yew tips", **FOOD)
    thin = Flavouring(flavouring_id="yew-1in10", name="Green tips", version_of="yew", **FOOD)
    mixed = Base(base_id="mixed", name="Green mix", made_from="yew:1;water:99")
    shelf = Shelf.of([WATER, mixed], [yew, thin])
    for recipe in (Recipe("water", {"yew-1in10": 1.0}), Recipe("mixed")):
        assert "no food" in {c.kind for c in cautions(recipe, shelf) if c.severity == "stop"}


KID = Taster(taster="kid", age_years=15, body_mass_kg=55)
TODDLER = Taster(taster="tot", age_years=2, body_mass_kg=12)
ASKING = Taster(taster="una", age_years=30, body_mass_kg=62, asks_professional="yes")
ADULT = Taster(taster="ana", age_years=30, body_mass_kg=62)
SPIRIT = {"ethanol_g_per_g": None, "carrier": "water:0.5"}


@pytest.mark.parametrize(
    ("name", "facts", "whom"),
    [
        *((n, SPIRIT, "kid una") for n in ("Rum", "Brandy", "Hazelnut liqueur", "Absinthe", "Nocino", "Herb tincture")),
        ("Vanilla extract", {"ethanol_g_per_g": None}, "kid una"),
        ("Plum extract", {"ethanol_g_per_g": None, "carrier": "ethanol"}, "kid una"),
        ("Plum extract", {"ethanol_g_per_g": None, "carrier": "ethanol:0.001"}, ""),
        ("Rum drops", {"ethanol_g_per_g": 0}, ""),
        ("Kava", {}, "kid una"),
        ("Cold brew", {"caffeine_mg_per_g": None}, "kid una"),
        ("Cold brew", {"caffeine_mg_per_g": 1}, ""),
        ("Chai", {"caffeine_mg_per_g": None}, "kid una"),
        ("Dark chocolate", {"caffeine_mg_per_g": None}, ""),
        ("CBD drops", {}, "kid una"),
        ("Comfrey", {}, "kid una"),
        ("Liquorice", {}, "una"),
        ("Sage", {}, "una"),
        ("Wormwood", {}, "una"),
        ("Pennyroyal", {}, "una"),
        ("Vitamin A drops", {}, "una"),
        ("Potassium chloride", {}, "una"),
        ("St John's wort", {}, "una"),
        ("Raw milk", {}, "kid tot una"),
        ("Garlic in oil", {}, "kid tot una"),
        ("Plum", {}, ""),
    ],
)
def test_what_some_must_not_have_stops_for_them_alone(name, facts, whom):
    """Common practice (no source) and from memory, as the table of names says beside each row."""
    for person in (KID, TODDLER, ASKING, ADULT):
        said = [c.text for c in stopped(bottle(name, **facts), person) if "suggests" in c.text]
        assert bool(said) == (person.taster in whom.split() or (person is TODDLER and "kid" in whom.split())), said


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    made = Bench.create(tmp_path_factory.mktemp("never") / "bench")
    rows = [
        ("yew", "Yew drops", ""),
        ("meg", "Blue drops", "MEG"),
        ("rum", "Rum", "water:0.5"),
        ("plum", "Plum", "water"),
    ]
    label = {"label_dose": "1 g/kg"}
    flavourings = [{**FOOD, **label, "flavouring_id": i, "name": n, "carrier": c} for i, n, c in rows]
    flavourings[2]["ethanol_g_per_g"] = None
    base = {
        "base_id": "oat",
        "name": "Oat drink",
        "allergens": "none",
        "ethanol_g_per_100g": 0,
        "caffeine_mg_per_100g": 0,
    }
    tasters = [{"taster": "kid", "age_years": 15, "body_mass_kg": 55}, {"taster": "ana", "age_years": 30}]
    loaded = made.load(bases=pd.DataFrame([base]), flavourings=pd.DataFrame(flavourings), tasters=pd.DataFrame(tasters))
    assert not len(loaded.refused)
    return made


def test_no_suggestion_holds_a_poison_and_it_is_said_what_was_left_out(bench):
    model = bench.learn()
    found = model.suggest(Brief(tasters=["ana"]), n=50)
    used = {f for one in found for f in one.recipe.doses}
    assert used == {"rum", "plum"}
    assert {i for reason in found[0].reasons if reason.kind == "no food" for i in reason.item_ids} == {"yew", "meg"}
    assert {f for one in model.suggest(Brief(tasters=["kid"]), n=50) for f in one.recipe.doses} == {"plum"}
    with pytest.raises(PairingError):
        model.suggest(Brief(tasters=["ana"], must_have=["yew"]))
    _, predicted = Questions(graph(model)).partners("plum")
    assert set(predicted["partner"]) == {"rum"}
    assert model.next_addition(Cup("oat", 250, shelf=bench.shelf()), "yew", tasters=["ana"]).stop


def test_the_command_line_asks_nobody_to_pour_it_and_says_that_a_label_does_not_answer(bench, tmp_path, capsys):
    folder = bench.export(tmp_path / "out")
    copy = Bench.create(tmp_path / "copy")
    copy.load(folder)
    place = ["--bench", str(tmp_path / "copy")]
    assert main(["recipe", "keep", "oat|yew=1", "--name", "dusk", *place]) == 0
    said = capsys.readouterr().out
    assert "STOP, " in said
    assert "Pour one serving" not in said
    assert main(["shelf", "label-read", "yew", *place]) == 0
    assert "never suggested all the same" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["Buckeye candy", "Elephant ear pastry", "Kath's vanilla", "Cough drop", "Heroine"])
def test_confections_named_like_a_poison_are_none(name):
    sweet = Flavouring(flavouring_id="x", name=name, food_use="yes")
    assert "all" not in never_for(sweet, Shelf.of([], [sweet]))
