import numpy as np
import pandas as pd
import pytest
from plan_kitchen import kitchen, kitchen_log, palate_model

from pairing import Brief, Recipe
from pairing.learned import learn_shelf
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.dose_limit import high_doses
from pairing.plan import candidates as module
from pairing.plan.candidates import candidates, combinations
from pairing.plan.figures import figures
from pairing.plan.objective import Objective
from pairing.plan.pool import with_doses
from pairing.plan.replace import with_stand_in


def test_all_singles_and_pairs_of_a_small_shelf_are_there_once():
    model = palate_model()
    pool = candidates(model, Brief())
    keys = {pool.key(i) for i in range(len(pool))}
    assert len(keys) == len(pool)
    assert sum(len(ids) == 1 for _, ids in keys) == 6 * 24
    assert len(keys) <= 6 * (24 + 276)
    assert all(d > 0 for row in pool.doses for d in row)
    assert Brief().max_flavourings == pool.recipes.flavouring.shape[1]


def test_a_narrowed_space_keeps_the_best(monkeypatch):
    model = palate_model()
    full = Objective(model.response).predict(candidates(model, Brief()))[0]
    monkeypatch.setattr(module, "MOST", 400)
    narrow = candidates(model, Brief())
    assert len(narrow) < 700
    found = Objective(model.response).predict(narrow)[0]
    assert found.max() > full.max() - 0.1
    assert np.sort(found)[-20:].mean() > np.sort(full)[-20:].mean() - 0.3
    must = next(iter(model.shelf.flavourings))
    three = [
        ids for ids in candidates(model, Brief(must_have=(must,), max_flavourings=3)).flavouring_ids if len(ids) == 3
    ]
    assert three
    assert all(must in ids for ids in three)


def test_larger_cups_extend_smaller_ones():
    model = palate_model()
    pool = candidates(model, Brief(max_flavourings=4))
    sizes = np.bincount(pool.recipes.count)
    assert len(sizes) == 5
    assert (sizes[1:] > 0).all()
    assert sizes[3] < 6 * 2024  # far fewer than all triples
    keys = {pool.key(i) for i in range(len(pool))}
    assert len(keys) == len(pool)
    for base_id, ids in sorted(keys)[:2000]:
        if len(ids) == 3:
            assert any((base_id, tuple(f for f in ids if f != one)) in keys for one in ids)


@pytest.mark.parametrize("size", [2, 3, 5])
def test_must_haves_are_in_every_candidate(size):
    pool = candidates(kitchen(), Brief(must_have=("pear", "plum"), max_flavourings=size))
    assert len(pool)
    assert all({"pear", "plum"} <= set(ids) for ids in pool.flavouring_ids)
    assert max(map(len, pool.flavouring_ids)) == min(size, 5)
    assert min(map(len, pool.flavouring_ids)) == 2


def test_figures_agree_with_the_serving_of_each_recipe():
    from pairing.nutrition.serving import serving

    model, brief = kitchen(), Brief(serving_g=180)
    pool = candidates(model, brief)
    found = figures(pool, brief)
    for i in range(0, len(pool), 7):
        one = serving(pool.recipe(i), model.shelf, 180)
        for name, values in found.items():
            expected = getattr(one, name)
            assert np.isnan(values[i]) if expected is None else values[i] == pytest.approx(expected)


def test_the_mean_of_two_tasters_is_the_mean_of_their_predictions():
    model = kitchen()
    pool = candidates(model, Brief()).take(np.arange(12))
    both = Objective(model.response, ("ana", "bo"))
    each = [Objective(model.response, (t,)).predict(pool)[0] for t in ("ana", "bo")]
    assert both.predict(pool)[0] == pytest.approx(np.mean(each, axis=0))
    joint = both.joint(pool, both.predict(pool)[0])
    assert np.sqrt(np.diag(joint.cov)) == pytest.approx(both.predict(pool)[1], rel=1e-6)
    assert np.linalg.eigvalsh(joint.cov).min() > -1e-8


def test_a_cup_is_never_all_flavouring():
    juices = [
        Flavouring(flavouring_id=f, name=f, label_dose="450 g/kg", food_use="yes") for f in ("fig", "pear", "plum")
    ]
    model = learn_shelf(Shelf.of([Base(base_id="oat", name="Oat")], juices), kitchen_log().iloc[:0])
    pool = with_doses(combinations(model.shelf, np.array([0]), np.arange(2), np.array([2]), 2), model)
    dose = pool.recipes.dose_g_per_kg
    assert (dose[~np.isnan(dose)] > 100).all()
    assert 990 < np.nansum(dose, axis=1).max() < 1000


def test_no_dose_is_guessed_past_what_the_log_asks_about():
    """A base in which two of a family need five times their label says little of a third: nobody tried it there."""
    ids = ["plum", "pear", "quince"]
    shelf = Shelf.of(
        [Base(base_id="pea", name="Pea drink"), Base(base_id="oat", name="Oat drink")],
        [
            Flavouring(
                flavouring_id=f, name=f.title(), form="syrup", family="fruit", label_dose_g_per_kg=30, food_use="yes"
            )
            for f in ids
        ],
    )
    strong = [("pea", f, 150.0, n) for f in ids[:2] for n in range(12)] + [("oat", f, 75.0, 0) for f in ids]
    log = pd.DataFrame(
        [
            {"trial_id": f"{b}-{f}-{n}", "base_id": b, "flavouring_id": f, "dose_g_per_kg": dose, "strength": 3}
            for b, f, dose, n in strong
        ]
        + [
            {"trial_id": f"weak-{f}-{n}", "base_id": "pea", "flavouring_id": f, "dose_g_per_kg": 60.0, "strength": 1}
            for f in ids[:2]
            for n in range(12)
        ]
    )
    model = learn_shelf(shelf, log)
    assert model.needed_dose("pea", "quince")["label_ratio"].item() > 3  # or there were nothing to hold back
    pool = candidates(model, Brief())
    recipes = [pool.recipe(i) for i in range(len(pool))]
    pairs_of_pea = [one for one in recipes if one.base_id == "pea" and len(one.doses) == 2]
    past = {
        (recipe.base_id, one.flavouring_id)
        for recipe in recipes
        for one in high_doses(recipe.doses, shelf.base(recipe.base_id), shelf)
    }
    assert past == {("pea", "plum"), ("pea", "pear")}  # they were just right there
    assert all(not any(high_doses(r.doses, shelf.base("pea"), shelf)) for r in pairs_of_pea)  # nobody tried those
    weak = {"trial_id": "weak", "base_id": "pea", "flavouring_id": "quince", "dose_g_per_kg": 60.0, "strength": 2}
    tried = learn_shelf(shelf, pd.concat([log, pd.DataFrame([weak])]))
    alone = with_doses(combinations(shelf, np.array([0]), np.array([2]), np.empty(0, int), 1), tried)
    assert not list(high_doses(alone.recipe(0).doses, shelf.base("pea"), shelf))  # tried, but never just right
    made = with_stand_in(model, Recipe("pea", {"plum": 150.0}), "plum", "quince")
    assert not list(high_doses(made.doses, shelf.base("pea"), shelf))
