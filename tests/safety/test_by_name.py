"""What a name stands for and no column states is counted: salt, acids, spirits; and what names mean that say little."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.allergens import named_in
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.names import hints, suspected
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions
from pairing.safety.unplaced import unplaced

FOOD = {"food_use": "yes", "caffeine_mg_per_g": 0, "ethanol_g_per_g": 0, "sweeteners": "none", "allergens": "none"}
WATER = Base(
    base_id="water", name="Spring water", sodium_mg_per_100g=0, ethanol_g_per_100g=0, caffeine_mg_per_100g=0,
    protein_g_per_100g=0, sweeteners="none", allergens="none", density_g_per_ml=1,
)  # fmt: skip


def said(name, dose, *people, base=WATER, serving_g=250.0, **facts):
    item = Flavouring(flavouring_id="x", name=name, **{**FOOD, **facts})
    shelf = Shelf.of([base], [item], people)
    names = [person.taster for person in people]
    return cautions(Recipe(base.base_id, {"x": dose}), shelf, names, serving_g=serving_g)


def stops(found):
    return [c.text for c in found if c.severity == "stop"]


def test_salt_without_a_figure_counts_as_salt():
    """From memory: molar masses 22.99 and 58.44 make 39.3 % sodium; 0.25 g of salt per kg at once is our limit."""
    grams = 17.5  # of salt hold 6.88 g sodium, 17.9 g hold 7.04
    for g, stop in ((grams, False), (17.9, True)):
        found = said("Sea salt", 1000 * g / (250 + g))
        assert bool(stops(found)) == stop
        assert any("sodium (at most: x states none)" in c.text and "2000 mg a day" in c.text for c in found)
    assert not any("sodium" in c.text for c in said("Sea salt", 60.0, sodium_mg_per_g=0))
    assert not any("sodium" in c.text and "else" in c.text for c in said("Plum", 60.0))


def test_a_spoon_of_salt_in_a_small_childs_cup_stops():
    tot = Taster(taster="tot", age_years=2, body_mass_kg=12)
    assert any("sodium" in text for text in stops(said("Salz", 20.0, tot)))
    assert not any("sodium" in text for text in stops(said("Salz", 2.0, tot)))


def test_salt_in_a_part_or_a_dilution_counts_by_its_share_and_a_salty_name_of_a_whole_drink_does_not():
    salt = Flavouring(flavouring_id="salt", name="Salt", food_use="yes")
    thin = Flavouring(flavouring_id="salt-1in10", name="Salt 1 in 10", version_of="salt", food_use="yes")
    brine = Base(base_id="brine", name="Mix", made_from="salt:5;water:95")
    milk = Base(base_id="milk", name="Salt caramel milk")
    shelf = Shelf.of([WATER, brine, milk], [salt, thin])
    assert suspected(salt, shelf) == {"sodium": 393.4}
    assert suspected(thin, shelf) == pytest.approx({"sodium": 39.34})
    assert suspected(brine, shelf) == pytest.approx({"sodium": 0.05 * 393.4})
    assert suspected(milk, shelf) == {}


def test_acids_without_a_figure_count_as_acid():
    """Common practice (no source): more than 60 g of acids in a kg of drink is a stop here, above 10 g a warning."""
    assert any("acids (x): 61 g per kg" in text for text in stops(said("Citric acid", 61.0)))
    for dose, grave in ((59.0, "warn"), (11.0, "warn")):
        assert grave in {c.severity for c in said("Zitronensäure", dose) if c.text.startswith("acids (x)")}
    assert any("about pH" in c.text for c in said("Citric acid", 11.0))
    assert not any(c.text.startswith(("acids (x):", "about pH")) for c in said("Citric acid", 61.0, acids_g_per_g=0))


@pytest.mark.parametrize(
    "name", ["Benzyl alcohol", "isopropyl alcohol", "cetyl alcohol", "sugar alcohol", "wood alcohol"]
)
def test_another_alcohol_is_not_ethanol(name):
    assert carrier_named(name) is None
    assert (
        carrier_named("alcohol").name
        == carrier_named("Ethyl alcohol").name
        == carrier_named("alcool").name
        == "ethanol"
    )


@pytest.mark.parametrize(("kg", "age", "most_mg"), [(70, 40, 100), (95, 40, 100), (20, 6, 28.6), (55, 15, 78.65)])
def test_a_neat_essential_oil_goes_by_body_mass_for_children(kg, age, most_mg):
    """Common practice (no source): the 100 mg of an adult of 70 kg, as much less as a child is lighter."""
    who = Taster(taster="ana", age_years=age, body_mass_kg=kg)
    for share, stop in ((0.97, False), (1.03, True)):
        grams = share * most_mg / 1000
        found = stops(said("Lavender essential oil", 1000 * grams / (250 + grams), who))
        assert any("essential oil" in text for text in found) == stop


ASKING = Taster(taster="una", age_years=30, body_mass_kg=62, asks_professional="yes")
ADULT = Taster(taster="ana", age_years=30, body_mass_kg=62)


def test_who_may_be_pregnant_has_half_the_caffeine_and_no_alcohol():
    """Published: 200 mg of caffeine a day in pregnancy (EFSA Journal 2015;13(5):4102). The 0.05 % is our choice."""
    shelf = Shelf.of(
        [WATER], [Flavouring(flavouring_id="x", name="Roast", **{**FOOD, "caffeine_mg_per_g": 10})], [ASKING]
    )
    for before, stop in ((90, False), (110, True)):
        already = {"una": {"caffeine": before}}
        found = cautions(Recipe("water", {"x": 38.4}), shelf, ["una"], already=already)  # 100 mg
        assert any("caffeine" in c.text for c in found if c.severity == "stop") == stop
    for person, stop in ((ASKING, True), (ADULT, False)):
        found = stops(said("Orange drops", 2.0, person, ethanol_g_per_g=0.7))
        assert any("who may be pregnant" in text for text in found) == stop
    assert not stops(said("Orange drops", 0.4, ASKING, ethanol_g_per_g=0.7))


CAFFEINE = ["Chai", "Masala chai", "Cold brew", "Oolong", "Sencha", "Matcha", "Guarana", "Yerba mate", "Kola nut"]


@pytest.mark.parametrize("name", CAFFEINE)
def test_names_that_mean_caffeine(name):
    assert "caffeine" in {hint.substance for hint in hints(Flavouring(flavouring_id="x", name=name))}


@pytest.mark.parametrize("name", ["Tea tree", "Gotu kola", "Rooibos tea", "Peppermint tea", "Cocoa butter", "Tomate"])
def test_names_that_do_not(name):
    assert "caffeine" not in {hint.substance for hint in hints(Flavouring(flavouring_id="x", name=name))}


@pytest.mark.parametrize(
    ("name", "allergens"),
    [
        ("Nocino", {"nuts"}), ("Hazelnut liqueur", {"nuts"}), ("Dashi", {"fish"}), ("Garum", {"fish"}),
        ("Fish sauce", {"fish"}), ("Katsuobushi", {"fish"}), ("Lupin", {"lupin"}), ("Marzipan", {"nuts"}),
        ("Praline", {"nuts"}), ("Gianduja", {"nuts"}), ("Tahini", {"sesame"}), ("Hummus", {"sesame"}),
        ("Zabaione", {"egg"}), ("Tiramisu syrup", {"egg", "milk"}), ("E 322", {"soy"}), ("Sunflower lecithin", set()),
        ("Amaretti", {"nuts"}), ("Dried apricots", {"sulphites"}), ("Stout", {"gluten", "sulphites"}),
        ("Root beer", set()), ("Ginger beer", set()), ("Ginger ale", set()),
    ],
)  # fmt: skip
def test_names_that_mean_an_allergen(name, allergens):
    assert named_in(name) == allergens


SULPHITED = [
    *("White wine", "Rotwein", "Vin blanc", "Vino tinto", "Cider", "Cidre", "Sherry", "Mulled wine", "Piwo", "Κρασί"),
    *("Raisins", "Rosinen", "Dried mango", "Trockenobst", "Albicocche secche", "Suszone śliwki i rodzynki"),
    *("Grape juice", "Traubensaft", "Zumo de uva", "Szőlőlé", "Wine vinegar", "Weinessig", "Aceto balsamico"),
]
"""What Regulation (EC) No 1333/2008, Annex II part E allows sulphites in above the 10 mg/kg of Regulation (EU) No
1169/2011, Annex II point 12: wine, cider, beer, vinegar, dried fruit, grape juice (from memory)."""


@pytest.mark.parametrize("name", SULPHITED)
def test_names_that_mean_sulphites(name):
    assert "sulphites" in named_in(name)


@pytest.mark.parametrize("name", ["Grape", "Wine gum", "Schwein", "Fresh apricot", "Dried mint", "Vinegar", "Öl"])
def test_names_that_mean_none(name):
    assert "sulphites" not in named_in(name)


def test_a_carrier_is_read_for_allergens_too():
    drops = Flavouring(flavouring_id="x", name="Drops", carrier="red wine:0.5", allergens="none", food_use="yes")
    shelf = Shelf.of([Base(base_id="oat", name="Oat", allergens="gluten")], [drops])
    told = [c.text for c in cautions(Recipe("oat", {"x": 1.0}), shelf)]
    assert any("suggests sulphites, which is not declared" in words for words in told)


@pytest.mark.parametrize(
    "name", ["Milk, raw", "Raw milk", "Lait non pasteurisé", "Milch, roh", "Raakamaito", "Eischnee"]
)
def test_raw_milk_is_found_whichever_word_comes_first(name):
    assert "pathogen" in {hint.kind for hint in hints(Base(base_id="b", name=name))}


@pytest.mark.parametrize(
    "name", ["Grapefruit", "Grapefruktsaft", "Greippi", "Bitterorange", "Dipotassium phosphate", "Kaliumphosphat"]
)
def test_what_many_medicines_or_kidneys_do_not_bear_stops_for_who_asks(name):
    """Common practice (no source)."""
    ana = Taster(taster="ana", asks_professional="yes", body_mass_kg=65, age_years=30)
    assert any("suggests" in text for text in stops(said(name, 1.0, ana)))
    assert not stops(said(name, 1.0))


@pytest.mark.parametrize(
    ("name", "about"),
    [
        ("Eugenia caryophyllus bud oil", "clove"), ("Melaleuca alternifolia leaf oil", "not for swallowing"),
        ("Gaultheria procumbens", "methyl salicylate"), ("Citrus paradisi peel oil", "grapefruit"),
        ("Mentha pulegium", "pulegone"), ("Cinnamomum cassia", "coumarin"), ("Rauch-Aroma", "smoke"),
    ],
)  # fmt: skip
def test_bottles_of_oils_are_labelled_with_the_plants_latin_name(name, about):
    """Botanical names, from memory."""
    assert any(about in hint.about for hint in hints(Flavouring(flavouring_id="x", name=name)))


@pytest.mark.parametrize("name", ["Xanthan gum", "Guarkernmehl", "Instant thickener"])
def test_a_thickener_is_named_for_who_drinks_at_a_set_thickness(name):
    assert any("dysphagia" in c.text for c in said(name, 1.0))
    assert not any("dysphagia" in c.text for c in said("Guarana", 1.0))


@pytest.mark.parametrize("name", ["Spiritus", "Trinkalkohol", "Alcool 95", "Grain spirit"])
def test_a_spirit_by_another_name_counts_as_ethanol_where_nobody_states_it(name):
    assert any("alcohol by volume" in text for text in stops(said(name, 60.0, TEEN, ethanol_g_per_g=None)))


@pytest.mark.parametrize("name", ["Vanille sans alcool", "Alcohol-free vanilla", "Benzyl alcohol"])
def test_what_says_to_be_free_of_it_does_not(name):
    assert "ethanol" not in {hint.substance for hint in hints(Flavouring(flavouring_id="x", name=name))}


TEEN = Taster(taster="teen", age_years=16, body_mass_kg=60)


@pytest.mark.parametrize("word", ["pku", "dysphagia", "renal"])
def test_a_diet_is_no_word_to_avoid(word):
    """It kept nothing out, and was taken for understood."""
    pia = Taster(taster="pia", avoid=word)
    syrup = Flavouring(flavouring_id="x", name="Plum", **{**FOOD, "sweeteners": "aspartame:5"})
    shelf = Shelf.of([WATER], [syrup], [pia])
    assert forbidden(["x"], shelf, pia)
    assert any(word in text for text in stops(cautions(Recipe("water", {"x": 1.0}), shelf, ["pia"])))
    (refused,) = unplaced(pia, shelf)
    assert "such as phenylalanine" in refused.remedy


@pytest.mark.parametrize("word", ["potassium", "Kalium", "kidney disease", "phosphate", "Nierendiät"])
def test_who_avoids_potassium_is_told_that_no_column_holds_it(word):
    """The nearest word, a salt of potassium, would keep out next to nothing."""
    rex = Taster(taster="rex", avoid=word)
    shelf = Shelf.of([WATER], [Flavouring(flavouring_id="x", name="Cocoa", **FOOD)], [rex])
    assert any(word.casefold() in text for text in stops(cautions(Recipe("water", {"x": 1.0}), shelf, ["rex"])))
    (refused,) = unplaced(rex, shelf)
    assert "did you mean" not in refused.remedy
    assert "potassium, phosphate or vitamin K" in refused.remedy
    asks = Taster(taster="rex", asks_professional="yes", body_mass_kg=70, age_years=60)
    found = said("Cocoa", 1.0, asks)
    assert any("potassium, phosphate or vitamin K" in c.cannot_know for c in found if c.people == ("rex",))


PKU = Taster(taster="pia", avoid="phenylalanine")


@pytest.mark.parametrize(
    ("base", "barred"),
    [
        ({}, False),
        ({"sweeteners": None}, True),
        ({"sweeteners": "aspartame:1"}, True),
        ({"sweeteners": "sugar:5000"}, False),
        ({"sweeteners": "mystery sweet:5"}, True),
        ({"protein_g_per_100g": 0.4}, False),
        ({"protein_g_per_100g": 3.3}, True),
        ({"protein_g_per_100g": None}, True),
    ],
)
def test_who_avoids_phenylalanine_is_kept_from_what_may_hold_it(base, barred):
    """Common practice (no source): protein holds phenylalanine; a sweetener that nobody knows may be aspartame."""
    from dataclasses import replace

    drink = replace(WATER, **base)
    assert bool(forbidden(["water"], Shelf.of([drink], []), PKU)) == barred


@pytest.mark.parametrize("facts", [{"sweetened": "yes", "sweeteners": None}, {"sweeteners": "mystery sweet:5"}])
def test_an_unknown_sweetener_of_a_flavouring_may_be_aspartame(facts):
    item = Flavouring(flavouring_id="x", name="Plum", **{**FOOD, "carrier": "water", **facts})
    shelf = Shelf.of([WATER], [item], [PKU])
    assert forbidden(["x"], shelf, PKU)
    assert any("not ruled out" in c.text for c in cautions(Recipe("water", {"x": 1.0}), shelf))


@pytest.mark.parametrize(
    ("name", "facts", "stop"),
    [
        ("Ground nutmeg", {}, True),
        ("Ground nutmeg", {"tags": "label-read"}, False),
        ("Nutmeg drops", {"carrier": "propylene glycol:0.95"}, False),
        ("Bitter almond", {}, True),
        ("Bitter almond", {"tags": "label-read"}, False),
        ("Apricot kernels, ground", {}, True),
        ("Almond", {}, False),
    ],
)
def test_what_is_toxic_by_the_spoon_counts_until_its_label_is_read(name, facts, stop):
    """From memory: some 5 g of nutmeg are toxic; 20 µg/kg of cyanide (EFSA Journal 2016;14(4):4424)."""
    found = [c.text for c in said(name, 8.0, ADULT, **facts) if c.kind == "intake" and c.severity == "stop"]
    assert bool(found) == stop
    base = Base(base_id="b", name=f"{name} drink", ethanol_g_per_100g=0, caffeine_mg_per_100g=0)
    assert not [c for c in cautions(Recipe("b"), Shelf.of([base], [])) if c.severity == "stop"]


def test_what_carriers_take_up_leaves_less_room_for_what_a_name_stands_for():
    item = Flavouring(flavouring_id="x", name="Salt", carrier="water:0.9")
    assert suspected(item, Shelf.of([], [item])) == pytest.approx({"sodium": 100.0})


@pytest.mark.parametrize(
    ("name", "dose", "facts", "stop"),
    [
        ("Instant coffee", 60.0, {"caffeine_mg_per_g": None}, True),
        ("Instant coffee", 60.0, {"caffeine_mg_per_g": 1}, False),
        ("Instant coffee", 8.0, {"caffeine_mg_per_g": None}, False),
        ("Caffiene powder", 2.0, {"caffeine_mg_per_g": None}, True),
        ("Potassium chloride", 60.0, {}, True),
        ("Salt substitute", 2.0, {}, False),
        ("Iron sulphate", 20.0, {}, True),
        ("Iron sulphate", 0.2, {}, False),
    ],
)
def test_what_is_acute_by_the_spoon_is_counted_by_its_name(name, dose, facts, stop):
    """From memory: dry coffee and tea hold up to 40 mg/g of caffeine; potassium chloride is 52 % potassium."""
    assert bool(stops(said(name, dose, ADULT, **facts))) == stop
