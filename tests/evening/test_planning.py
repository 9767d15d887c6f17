"""An evening: limits hold for everybody, what is not known passes them, and it is planned anew after every cup."""

import math

import numpy as np
import pytest

from pairing import Recipe
from pairing.errors import BriefError
from pairing.evening.agenda import Wanted
from pairing.evening.planning import SIPS_PER_TASTE, plan_evening
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.safety.swallowed import Tally

RICE = Base(base_id="rice", name="Rice drink", energy_kcal_per_100g=50, sweeteners="none", caffeine_mg_per_100g=0,
           allergens="none", ethanol_g_per_100g=0)  # fmt: skip
PLUM = Flavouring(flavouring_id="plum", name="Plum", energy_kcal_per_g=3, sweeteners="none", caffeine_mg_per_g=0,
                  allergens="none", food_use="yes", ethanol_g_per_g=0)  # fmt: skip
COLA = Flavouring(flavouring_id="kola", name="Kola", energy_kcal_per_g=1, sweeteners="none", caffeine_mg_per_g=20,
                  allergens="none", food_use="yes", ethanol_g_per_g=0, max_dose_g_per_kg=200)  # fmt: skip
DARK = Flavouring(flavouring_id="dark", name="Dark", allergens="none", food_use="yes")
GINGER = Flavouring(flavouring_id="ginger", name="Ginger", energy_kcal_per_g=2, allergens="none", food_use="yes")
ANA = Taster(taster="ana", avoid_allergens="none", body_mass_kg=60)
BEN = Taster(taster="ben", avoid_allergens="wheat", body_mass_kg=70)


def shelf(*tasters):
    return Shelf.of([RICE], [PLUM, COLA, DARK, GINGER], tasters)


def cup(flavouring_id, dose=10.0, needed=10.0):
    return Wanted(recipe=Recipe("rice", {flavouring_id: dose}), needed_g_per_kg={flavouring_id: needed})


def names(evening):
    return [next(iter(one.recipe.doses)) for one in evening.cups]


def test_it_begins_with_a_plain_cup_that_nobody_scores_and_ends_with_what_lingers():
    evening = plan_evening([cup("ginger", 1.0), cup("plum")], shelf(ANA), ["ana"])
    assert evening.warm_up.recipe == Recipe("rice", {})
    assert not evening.warm_up.scored
    assert names(evening) == ["plum", "ginger"]
    assert [one.before.rest_s for one in evening.cups] == [60, 60]
    assert evening.next is evening.warm_up


def test_no_wheat_cracker_where_it_is_avoided_or_nobody_said():
    wanted = [cup("plum"), cup("ginger")]
    chewed = {who: plan_evening(wanted, shelf(ANA, BEN), who).cups[1].before.chew for who in (("ana",), ("ana", "ben"))}
    assert chewed == {("ana",): "cracker", ("ana", "ben"): "rice cake"}
    assert plan_evening(wanted, shelf(ANA), ["ana", "guest"]).cups[0].before.chew == "rice cake"


def test_after_a_cup_the_rest_is_planned_anew():
    wanted = [cup("plum"), cup("ginger"), cup("dark")]
    evening = plan_evening(wanted, shelf(ANA), ["ana"], cups=3, tasted=[("rice", frozenset()), ("rice", {"plum"})])
    assert evening.warm_up is None
    assert names(evening) == ["dark", "ginger"]
    assert evening.tasted == 1
    full = plan_evening(wanted, shelf(ANA), ["ana"], cups=1, tasted=[("rice", frozenset({"plum"}))])
    assert full.next is None


def test_one_cup_comes_twice_without_a_word_and_apart_from_its_twin():
    wanted = [cup("ginger", 1.0), cup("plum", 5.0), cup("dark"), cup("kola", 9.0)]
    evening = plan_evening(wanted, shelf(ANA), ["ana"], cups=5, duplicate=True)
    assert names(evening) == ["plum", "kola", "dark", "plum", "ginger"]
    assert [one.purpose for one in evening.cups].count("duplicate") == 1
    few = plan_evening(wanted, shelf(ANA), ["ana"], cups=3, duplicate=True)
    assert few == plan_evening(wanted, shelf(ANA), ["ana"], cups=3)
    poured = Recipe("rice", {"plum": 4.0})
    later = plan_evening(wanted, shelf(ANA), ["ana"], cups=5, tasted=[("rice", {"plum"})], duplicate=poured)
    assert next(one for one in later.cups if one.purpose == "duplicate").recipe == poured
    both = [("rice", {"plum"}), ("rice", {"plum"})]
    over = plan_evening(wanted, shelf(ANA), ["ana"], cups=5, tasted=both, duplicate=poured)
    assert "plum" not in names(over)


def test_a_child_has_four_cups_at_most_and_none_with_caffeine_alcohol_or_sweeteners():
    kid = Taster(taster="kid", avoid_allergens="none", body_mass_kg=30, age_years=9)
    mild = [
        Flavouring(flavouring_id=f"f{i}", name=f"Fruit {i}", allergens="none", food_use="yes", sweeteners="none",
                   caffeine_mg_per_g=0, ethanol_g_per_g=0, carrier="water:1")
        for i in range(6)
    ]  # fmt: skip
    table = Shelf.of([RICE], [COLA, *mild], [kid])
    evening = plan_evening([cup("kola"), *(cup(f"f{i}") for i in range(6))], table, ["kid"])
    assert sorted(names(evening)) == ["f0", "f1", "f2", "f3"]
    (left,) = evening.left_out
    assert "kola" in left.recipe.doses
    assert left.caution.kind == "person"


def test_what_would_be_too_much_is_left_out_and_said():
    evening = plan_evening([cup("plum", 100.0), cup("ginger", 1.0)], shelf(ANA), ["ana"], most={"kcal": 32})
    assert names(evening) == ["ginger"]
    (one,) = evening.left_out
    assert (one.taster, one.counted, one.most) == ("ana", "kcal", 32)
    assert one.amount == pytest.approx(15 + 27 * 0.5 + 3 * 3)  # the plain cup, and 30 g with 3 g of plum
    assert evening.amounts["ana"]["kcal"] == pytest.approx(15 + 30 * 0.999 * 0.5 + 30 * 0.001 * 2)


def test_what_is_not_known_passes_every_limit_that_needs_it():
    assert names(plan_evening([cup("dark")], shelf(ANA), ["ana"])) == ["dark"]
    for most in ({"kcal": 1000}, {"caffeine": 100}, {"sweeteners": 100}, {"sucralose": 100}):
        evening = plan_evening([cup("dark"), cup("plum")], shelf(ANA), ["ana"], most=most)
        assert names(evening) == ["plum"]
        assert evening.left_out[0].unknown == ("dark",)


def test_what_was_taken_today_counts():
    took = Tally(taster="ana", drink_g=0, grams={}, kcal=0, ethanol_g=0, caffeine_mg=390,
                 substances_mg={"caffeine": 390.0}, cautions=(),
                 at_least={"kcal": 0, "ethanol_g": 0, "caffeine_mg": 390})  # fmt: skip
    wanted = [cup("kola", 100.0), cup("plum")]
    assert len(plan_evening(wanted, shelf(ANA), ["ana"]).cups) == 2
    evening = plan_evening(wanted, shelf(ANA), ["ana"], today={"ana": took})
    assert names(evening) == ["plum"]
    assert evening.left_out[0].caution.severity == "stop"


def test_more_cups_than_a_palate_bears_are_refused():
    for cups in (0, 7, True, 2.5):
        with pytest.raises(BriefError, match="a palate bears 4 to 6"):
            plan_evening([cup("plum")], shelf(), cups=cups)


@pytest.mark.parametrize(
    ("most", "said"),
    [
        ({"sugar": 3}, "'sugar' is not counted"),
        ({"kcal": -1}, "at most -1 of kcal"),
        ({"kcal": math.nan}, "at most nan"),
        ({"zoe": {"kcal": 3}}, "'zoe' has a limit and does not taste"),
        ("kcal", "most is 'kcal'"),
    ],
)
def test_limits_that_are_none_are_refused(most, said):
    with pytest.raises(BriefError, match=said) as error:
        plan_evening([cup("plum")], shelf(ANA), ["ana"], most=most)
    assert error.value.hint


# --- 1,000 random evenings --------------------------------------------------------------------------------------------

N_EVENINGS = 1000


def random_evening(rng):
    """A random kitchen with its numbers beside it, who is there, what they took and may take, and what is wanted."""
    maybe = lambda high: None if rng.random() < 0.04 else float(np.round(rng.random() * high, 2))  # noqa: E731
    numbers = {}
    bases, drops = [], []
    for n in range(2):
        kcal, caffeine, sweet = maybe(90), maybe(60), maybe(30)
        numbers[f"b{n}"] = (kcal, caffeine, sweet, 100.0)
        bases.append(
            Base(base_id=f"b{n}", name=f"B{n}", energy_kcal_per_100g=kcal, caffeine_mg_per_100g=caffeine,
                 sweeteners=None if sweet is None else f"sucralose:{sweet}", allergens="none", ethanol_g_per_100g=0)
        )  # fmt: skip
    for n in range(6):
        kcal, caffeine, sweet = maybe(6), maybe(40), maybe(30)
        numbers[f"f{n}"] = (kcal, caffeine, sweet, 1.0)
        drops.append(
            Flavouring(flavouring_id=f"f{n}", name=f"F{n}", energy_kcal_per_g=kcal, caffeine_mg_per_g=caffeine,
                       sweeteners=None if sweet is None else f"sucralose:{sweet}", allergens="none", food_use="yes",
                       ethanol_g_per_g=0)
        )  # fmt: skip
    who = [f"p{n}" for n in range(int(rng.integers(1, 4)))]
    people = [Taster(taster=p, avoid_allergens="none", body_mass_kg=float(rng.integers(18, 95))) for p in who]
    before = {p: (float(rng.integers(0, 200)), float(rng.integers(0, 120)), float(rng.integers(0, 200))) for p in who}
    today = {
        p: Tally(taster=p, drink_g=1, grams={}, kcal=k, ethanol_g=0, caffeine_mg=c, cautions=(),
                 at_least={"kcal": k, "ethanol_g": 0, "caffeine_mg": c},
                 substances_mg={"caffeine": c, "sucralose": s})
        for p, (k, c, s) in before.items()
    }  # fmt: skip
    limits = {"kcal": 500, "caffeine": 300, "sucralose": 500, "sips": 20}
    most = {p: {k: float(rng.random() * high) for k, high in limits.items() if rng.random() < 0.3} for p in who}
    wanted = []
    for _ in range(9):
        chosen = rng.choice(6, int(rng.integers(1, 3)), replace=False)
        doses = {f"f{n}": float(rng.random() * 60 + 1) for n in chosen}
        recipe = Recipe(f"b{rng.integers(2)}", doses)
        wanted.append(Wanted(recipe=recipe, needed_g_per_kg=dict(doses)))
    return Shelf.of(bases, drops, people), numbers, who, before, today, most, wanted


def taken_by_hand(evening, numbers, column):
    """What a taster takes of the evening's cups, of the numbers that the kitchen was made from; None is unknown."""
    total = 0.0
    for one in filter(None, [evening.warm_up, *evening.cups]):
        parts = {f: 30.0 * d / 1000 for f, d in one.recipe.doses.items()}
        parts[one.recipe.base_id] = 30.0 - sum(parts.values())
        for item, grams in parts.items():
            per, of = numbers[item][column], numbers[item][3]
            if per is None:
                return None
            total += per * grams / of
    return total


def test_a_thousand_random_evenings_keep_every_limit():
    rng = np.random.default_rng(19)
    served = full = held_back = 0
    for _ in range(N_EVENINGS):
        shelf, numbers, who, before, today, most, wanted = random_evening(rng)
        evening = plan_evening(wanted, shelf, who, most=most, today=today)
        served += len(evening.cups)
        full += len(evening.cups) == 6
        held_back += len(evening.left_out)
        if not evening.cups and evening.warm_up is None:
            continue
        cups = len(evening.cups) + (evening.warm_up is not None)
        sums = [taken_by_hand(evening, numbers, column) for column in range(3)]
        for p, person in shelf.tasters.items():
            for column, name in enumerate(("kcal", "caffeine", "sucralose")):
                if name in most[p]:
                    assert sums[column] is not None, "an unknown amount passed a limit"
                    assert before[p][column] + sums[column] <= most[p][name] * (1 + 1e-6)
            if sums[1] is not None:  # at once 3 mg/kg, at most 200 mg; a day 400 mg: EFSA Journal 2015;13(5):4102
                assert sums[1] <= min(200.0, 3.0 * person.body_mass_kg) * (1 + 1e-6)
                assert before[p][1] + sums[1] <= 400 * (1 + 1e-6)
            assert SIPS_PER_TASTE * cups <= most[p].get("sips", math.inf)
    assert served > 1000
    assert full > 50
    assert held_back > 3000


def test_the_cup_that_comes_twice_has_others_between():
    hot = [
        Wanted(recipe=Recipe("rice", {"ginger": 10.0, other: 10.0}), needed_g_per_kg={"ginger": 10.0, other: 10.0})
        for other in ("plum", "dark", "kola")
    ]
    evening = plan_evening([cup("plum", 1.0), *hot], shelf(ANA), ["ana"], cups=5, duplicate=True)
    served = [tuple(one.recipe.doses) for one in evening.cups]
    assert served[0] == ("plum",), "what lingers comes late, so that plum would follow itself"
    twice = [i for i, doses in enumerate(served) if served.count(doses) > 1]
    assert twice[1] - twice[0] > 1
