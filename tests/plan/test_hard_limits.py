"""Limits of a brief hold for every suggestion, and nothing that keeps them is held back."""

from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kitchen import ANA, BO, FLAVOURINGS, kitchen

from pairing import Brief
from pairing.errors import BriefError
from pairing.nutrition.serving import serving

KNOWN = {f.flavouring_id: f for f in FLAVOURINGS}


@settings(max_examples=40)
@given(
    added=st.none() | st.floats(0.5, 40),
    total=st.none() | st.floats(95, 250),
    cost=st.none() | st.floats(0.01, 0.4),
    ethanol=st.none() | st.floats(0, 0.5),
    allergens=st.sets(st.sampled_from(["almond", "milk", "gluten", "nuts"])),
    size=st.integers(1, 3),
    grams=st.none() | st.floats(50, 500),
)
def test_hard_limits_are_never_broken(added, total, cost, ethanol, allergens, size, grams):
    model = kitchen(ANA, BO)
    brief = Brief(
        max_added_kcal=added,
        max_total_kcal=total,
        max_added_cost=cost,
        max_ethanol_pct_vv=ethanol,
        avoid_allergens=tuple(allergens),
        max_flavourings=size,
        serving_g=grams,
        tasters=("ana",),
    )

    def within(value, limit):
        return limit is None or (value is not None and value <= limit + 1e-6)

    def keeps_all(recipe):
        serve = serving(recipe, model.shelf, grams)
        return (
            len(recipe.doses) <= size
            and within(serve.added_kcal, added)
            and within(serve.total_kcal, total)
            and within(serve.added_cost, cost)
            and within(serve.ethanol_pct_vv, ethanol)
            and not recipe.doses.keys() & {"almond", "mystery", "perfume"}  # ana; allergens unknown; no food
            and not allergens & serve.allergens
            and all(within(g, KNOWN[f].stock_g) for f, g in serve.grams.items())
            and all(within(d, KNOWN[f].max_dose_g_per_kg) for f, d in recipe.doses.items())
        )

    try:
        found = model.suggest(brief, 6)
    except BriefError:
        free = model.suggest(Brief(max_flavourings=size, serving_g=grams), 200)
        assert not any(keeps_all(one.recipe) for one in free)  # nothing that the error kept back would have done
        return
    assert found
    assert all(keeps_all(one.recipe) for one in found)
