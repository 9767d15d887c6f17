"""What the planner leaves out, as arrays, is what the words stop: one by one, on shelves and recipes at random."""

import numpy as np
import pytest

from pairing.api import Rule
from pairing.model.base import DEFAULT_SERVING_G, Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.safety.cautions import cautions
from pairing.safety.people import people_of
from pairing.safety.session import session_cautions
from pairing.safety.stops import stops

NAMES = (
    *("Plum drops", "Caffeine anhydrous", "Hazelnut praline", "Honey", "Nutmeg oil", "Clove essential oil", "Tea"),
    *("Nikotinsalz", "Vanilla extract", "Sea brine", "Methanol cleaner", "Guarana", "Lakritz", "Wermut tincture"),
)
NAMES += ("Yew tips", "Sea salt", "Citric acid", "Rum", "Liquorice", "Rose e-liquid")
SOMEBODY = (
    (None, None),
    (6, None),
    (25, None),
    (70, None),
    (None, 0.5),
    (6, 0.5),
    (None, 9),
    (25, 9),
    (70, 16),
    (25, 40),
)
BASES = ("Oat drink", "Follow-on milk", "Cold brew coffee", "Raw milk", "Spring water", "Rum punch")
KINDS = ("person", "food use", "no food", "dose", "intake", "acid", "honey", "rule")
LAW = Rule(
    id="law",
    summary="a limit of this test",
    source="this test",
    acts_on="caution",
    severity="stop",
    feature=lambda table: (np.nansum(np.asarray(table.dose_g_per_kg), axis=1) > 60).astype(float),
    because=lambda recipe: "more than 60 g/kg in all",
)


def pick(rng, *values):
    return values[int(rng.integers(len(values)))]


def flavouring(rng, i):
    return Flavouring(
        flavouring_id=f"f{i}",
        name=pick(rng, *NAMES),
        form=pick(rng, None, "drops", "powder", "oil"),
        carrier=pick(rng, None, "none", "propylene glycol:0.8", "ethanol:0.9", "glycerol", "ethanol", "water", "MEG"),
        caffeine_mg_per_g=pick(rng, None, 0, 5, 200),
        ethanol_g_per_g=pick(rng, None, 0, 0.3),
        acids_g_per_g=pick(rng, None, 0, 0.5),
        sweeteners=pick(
            rng, None, "none", "aspartame:20", "sucralose:60", "cyclamate:10", "thujone:0.2", "glycerol:400"
        ),
        allergens=pick(rng, None, "none", "milk", "hazelnut", "xyz"),
        tags=pick(rng, None, "none", "label-read", "sharp"),
        food_use=pick(rng, "yes", "yes", "yes", "no", "unknown", None),
        max_dose_g_per_kg=pick(rng, None, None, 0, 3, 50),
        version_of=pick(rng, None, None, "f0") if i else None,
    )


def base(rng, i):
    return Base(
        base_id=f"b{i}",
        name=pick(rng, *BASES),
        caffeine_mg_per_100g=pick(rng, None, 0, 40, 120),
        ethanol_g_per_100g=pick(rng, None, 0, 0.3, 8),
        acids_g_per_100g=pick(rng, None, 0, 7),
        density_g_per_ml=pick(rng, None, 1.0, 1.05),
        allergens=pick(rng, None, "none", "milk"),
        ph=pick(rng, None, 7.0, 3.0, 1.5, 12.0),
        sweeteners=pick(rng, None, "none"),
        serving_g=pick(rng, None, 100, 330),
    )


def taster(rng, i):
    return Taster(
        taster=f"t{i}",
        avoid_allergens=pick(rng, "none", "milk", "nuts", "dairy;xyz"),
        avoid=pick(rng, "none", "none", "ethanol", "caffeine", "f1", "sharp", "honey", "nobody knows"),
        **dict(zip(("body_mass_kg", "age_years"), pick(rng, *SOMEBODY), strict=True)),
        asks_professional=pick(rng, None, "yes"),
    )


def scene(seed):
    rng = np.random.default_rng(seed)
    shelf = Shelf.of(
        (base(rng, i) for i in range(4)),
        (flavouring(rng, i) for i in range(7)),
        (taster(rng, i) for i in range(2)),
        jurisdiction=pick(rng, "EU", "US"),
    )
    recipes = []
    for _ in range(25):
        ids = rng.choice(list(shelf.flavourings), int(rng.integers(0, 4)), replace=False)
        recipes.append(Recipe(pick(rng, *shelf.bases), {str(f): float(10 ** rng.uniform(-1.5, 2.3)) for f in ids}))
    who = pick(rng, (), ("t0",), ("t0", "t1"), ("t1", "somebody"))
    already = pick(rng, None, {"t0": {"caffeine": 250, "ethanol": 12000}, "t1": {"caffeine": 100}})
    return shelf, recipes, who, already


@pytest.mark.parametrize("seed", range(60))
def test_arrays_and_words_stop_the_same(seed):
    from pairing.safety.swallowed import swallowed_mg

    shelf, recipes, who, already = scene(seed)
    people = people_of(who, shelf)
    base_g = np.array([shelf.base(r.base_id).serving_g or DEFAULT_SERVING_G for r in recipes])
    before = swallowed_mg(already, people)
    found = stops(shelf, Recipes.of(shelf, recipes), base_g, people, rules=[LAW], already=before)
    assert set(found) == set(KINDS)
    for i, recipe in enumerate(recipes):
        told = [c for c in cautions(recipe, shelf, who, rules=[LAW], already=already) if c.severity == "stop"]
        kinds = {c.kind for c in told}
        masks = {why for why, mask in found.items() if mask[i]}
        assert bool(told) == bool(masks), (recipe, told, masks)
        assert {"person" if why == "honey" else why for why in masks} == kinds, (recipe, told)


def test_the_check_sees_every_kind():
    seen = set()
    for seed in range(60):
        shelf, recipes, who, _ = scene(seed)
        base_g = np.array([shelf.base(r.base_id).serving_g or DEFAULT_SERVING_G for r in recipes])
        found = stops(shelf, Recipes.of(shelf, recipes), base_g, people_of(who, shelf), rules=[LAW])
        seen |= {why for why, mask in found.items() if mask.any() and not mask.all()}
    assert seen == set(KINDS)


def test_a_maximum_next_to_nothing_is_passed_by_any_dose():
    plum = Flavouring(flavouring_id="plum", name="Plum drops", food_use="yes", max_dose_g_per_kg=5e-324)
    shelf = Shelf.of([Base(base_id="oat", name="Oat drink")], [plum])
    recipes = Recipes.of(shelf, [Recipe("oat", {"plum": 999.0})])
    assert stops(shelf, recipes, np.array([250.0]), people_of((), shelf))["dose"].all()


@pytest.mark.parametrize("seed", range(10))
def test_a_session_of_one_cup_is_that_cup(seed):
    shelf, recipes, who, already = scene(seed)
    for recipe in recipes[:8]:
        base_g = 200.0
        whole = base_g / (1 - sum(recipe.doses.values()) / 1000)
        alone = session_cautions([(recipe, whole)], shelf, who, already=already)
        cup = cautions(recipe, shelf, who, serving_g=base_g, already=already)

        def limits(found):
            return {(c.severity, c.words.split("{items}")[0], c.people) for c in found if c.kind == "intake"}

        assert {c for c in limits(alone) if c[0] == "stop"} <= {c for c in limits(cup) if c[0] == "stop"}


@pytest.mark.parametrize("age", [0.5, 1.5, 6])
def test_a_child_who_avoids_nothing_in_writing_is_kept_from_the_same(age):
    tea = Flavouring(flavouring_id="tea", name="Tea", caffeine_mg_per_g=20, food_use="yes", allergens="none")
    kid = Taster(taster="kid", age_years=age, avoid="", avoid_allergens="")
    shelf = Shelf.of([Base(base_id="oat", name="Oat", allergens="none")], [tea], [kid])
    recipe = Recipe("oat", {"tea": 0.5})
    found = stops(shelf, Recipes.of(shelf, [recipe]), np.full(1, 200.0), people_of(["kid"], shelf))
    assert found["person"].all()
    told = cautions(recipe, shelf, ["kid"], serving_g=200)
    assert any("contains caffeine" in str(c) and c.severity == "stop" for c in told)
