"""Fronts, cold starts, evenings, stock, replay, pre-dilution: what stands around the suggestions."""

from functools import partial

import numpy as np
import pandas as pd
import pytest
import simulated
from plan_kitchen import BASES, FLAVOURINGS, empty_model, kitchen, kitchen_log, palate_model

from pairing import Brief
from pairing.errors import BriefError, LogError, UnknownIdError
from pairing.evening.sessions import serving_order, stock_cups
from pairing.learned import learn_shelf
from pairing.learned.fit import fit
from pairing.learned.replay import replay
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.plan.candidates import candidates
from pairing.plan.coldstart import first_trials, for_new_base, for_new_flavouring
from pairing.plan.dilution import predilute
from pairing.plan.history import history
from pairing.stock.held import cups_per_bottle
from pairing.testing.counting import steps

FLAVOURING = {f.flavouring_id: f for f in FLAVOURINGS}


@pytest.mark.parametrize("by", ["added_kcal", "total_kcal", "added_cost"])
def test_on_a_front_every_step_up_in_price_is_liked_better(by):
    table = kitchen().front(Brief(), by=by)
    assert len(table) >= 2
    assert (np.diff(table[by]) > 0).all()
    assert (np.diff(table["liking"]) > 0).all()
    assert (table["liking_low"] <= table["liking"]).all()


def test_nothing_beats_the_front():
    model = kitchen()
    table = model.front(Brief(bases=("oat", "rice")))
    for one in model.suggest(Brief(bases=("oat", "rice")), 30):
        if one.added_kcal is None:
            continue
        cheaper = table[table["added_kcal"] <= one.added_kcal + 1e-9]
        assert cheaper["liking"].max() >= one.liking - 0.05


def test_a_front_keeps_the_limits_and_refuses_what_it_does_not_know():
    table = kitchen().front(Brief(max_added_kcal=15), by="added_cost")
    assert all("mystery" not in ids for ids in table["flavouring_ids"])
    with pytest.raises(BriefError, match="added_kcal"):
        kitchen().front(Brief(), by="price")


def test_first_trials_are_singles_that_differ():
    found = first_trials(empty_model(), n=6, random_state=0)
    assert len(found) == 6
    assert all(len(s.recipe.doses) == 1 for s in found)
    assert len({s.recipe.flavouring_ids for s in found}) >= 5
    assert len({s.recipe.base_id for s in found}) >= 3


def test_first_trials_are_each_single_once_where_all_are_asked_for():
    model = kitchen()
    found = [(one.recipe.base_id, *one.recipe.doses) for one in first_trials(model, n=500)]
    pool = candidates(model, Brief(max_flavourings=1))
    assert sorted(found) == sorted((base_id, *ids) for base_id, ids in map(pool.key, range(len(pool))))


def test_first_trials_teach_more_than_random_ones():
    """Variance left over all singles and pairs after six cups: chosen against drawn at random."""
    from pairing.plan.objective import Objective

    model = empty_model()
    pool = candidates(model, Brief(max_flavourings=1))
    joint = Objective(model.response).joint(pool, np.zeros(len(pool)))
    keys = [pool.key(i) for i in range(len(pool))]
    chosen = [keys.index((s.recipe.base_id, s.recipe.flavouring_ids)) for s in first_trials(model, n=6)]

    def left(rows):
        after = joint
        for row in rows:
            after = after.tasted(int(row))
        return np.diag(after.cov).mean()

    rng = np.random.default_rng(0)
    by_chance = [left(rng.choice(len(pool), 6, replace=False)) for _ in range(20)]
    assert left(chosen) < np.quantile(by_chance, 0.1)


def test_a_new_base_gets_known_winners_first():
    palate = simulated.make_palate(8)
    log = palate.log(120, np.random.default_rng(8))
    shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df)
    version = Base(base_id="base-00b", name="New version", version_of="base-00", fat_g_per_100g=2, serving_g=250)
    model = learn_shelf(Shelf.of([*shelf.bases.values(), version], shelf.flavourings.values()), log)
    known = {ids: c.liking for (_, ids), c in history(model).items() if c.liked}
    found = for_new_base(model, "base-00b", 3)
    for one in found:
        assert one.recipe.base_id == "base-00b"
        assert one.recipe.flavouring_ids in known
    assert np.mean([known[s.recipe.flavouring_ids] for s in found]) > np.mean(list(known.values()))
    with pytest.raises(UnknownIdError, match="base-0"):
        for_new_base(model, "base-99")


def test_a_new_flavouring_is_in_every_suggestion():
    model = kitchen()
    found = for_new_flavouring(model, "pear", 3, Brief(on_hand=("plum",)))
    assert all("pear" in s.recipe.doses for s in found)
    with pytest.raises(BriefError, match="never"):
        for_new_flavouring(model, "pear", 3, Brief(never=("pear",)))


@pytest.mark.parametrize("n", [0, -3, 501, "a", True, 2.5])
def test_a_cold_start_refuses_what_a_suggestion_refuses(n):
    model = kitchen()
    for ask in (
        partial(first_trials, model),
        partial(for_new_base, model, "oat"),
        partial(for_new_flavouring, model, "pear"),
    ):
        with pytest.raises(BriefError, match="n is"):
            ask(n=n)
        with pytest.raises(BriefError, match="is no brief"):
            ask(brief="oat")


def test_what_was_tried_in_the_base_itself_only_is_no_winner_to_retry():
    log = kitchen_log()
    there = log[(log["base_id"] == "rice") | (log["flavouring_id"] == "pear")]
    own = there[there["base_id"] != "rice"].assign(base_id="oat")
    readings = pd.concat([own, there[there["base_id"] == "rice"].query("flavouring_id == 'plum'")])
    found = for_new_base(learn_shelf(kitchen().shelf, readings), "oat", 5)
    assert {one.recipe.flavouring_ids for one in found} == {("plum",)}


def test_what_is_asked_again_is_answered_the_same_between_equals():
    twins = [
        Flavouring(flavouring_id=f"f{i}", name=f"Twin {i}", label_dose_g_per_kg=1, food_use="yes") for i in range(30)
    ]
    bases = [Base(base_id=f"b{i}", name=f"Base {i}") for i in range(15)]
    model = learn_shelf(Shelf.of(bases, twins), kitchen_log().iloc[:0])
    for ask in (
        partial(model.suggest, Brief(bases=("b0",), max_flavourings=1), 2),
        partial(first_trials, model, n=2),
        partial(for_new_base, model, "b3", 2),
        partial(for_new_flavouring, model, "f7", 2),
    ):
        usual = [one.recipe for one in ask()]
        assert usual == [one.recipe for one in ask(random_state=0)]
        assert any(usual != [one.recipe for one in ask(random_state=seed)] for seed in (1, 2))


def test_a_new_base_that_the_brief_leaves_out_is_refused():
    model = kitchen()
    with pytest.raises(BriefError, match="oat is not among the bases rice, whey"):
        for_new_base(model, "oat", brief=Brief(bases=("rice", "whey")))
    assert for_new_base(model, "oat", 1, Brief(bases=("rice", "oat")))[0].recipe.base_id == "oat"


def test_an_evening_is_served_weak_before_strong_alcohol_last_and_never_too_long():
    model = kitchen()
    found = model.suggest(Brief(bases=("oat", "rice")), 9)
    served = serving_order(found, model.shelf)
    assert sorted(id(s.suggestion) for s in served) == sorted(map(id, found))
    for session in {s.session for s in served}:
        cups = [s for s in served if s.session == session]
        assert len(cups) <= 6
        assert [s.position for s in cups] == list(range(1, len(cups) + 1))
        alcohol = ["clove" in s.suggestion.recipe.doses for s in cups]
        assert alcohol == sorted(alcohol)
        assert all(s.before.rinse for s in cups)
    bases = pd.crosstab([s.session for s in served], [s.suggestion.recipe.base_id for s in served])
    assert (bases.max() - bases.min()).max() <= 2
    assert serving_order([], model.shelf) == []


def test_a_base_with_alcohol_comes_last_and_is_rested_after():
    cider = Base(base_id="cider", name="Cider", ethanol_g_per_100g=4)
    mixed = Base(base_id="mixed", name="Cider and oat", made_from="cider:100;oat:100")
    model = learn_shelf(Shelf.of([*BASES, cider, mixed], FLAVOURINGS), kitchen_log())
    pear = (Brief(bases=(b,), must_have=("pear",), max_flavourings=1) for b in ("mixed", "cider", "oat", "rice"))
    served = serving_order([model.suggest(one, 1)[0] for one in pear], model.shelf)
    assert {s.suggestion.recipe.base_id for s in served[2:]} == {"cider", "mixed"}
    assert served[2].before.rest_s == 60
    assert served[3].before.rest_s == 120


def test_partners_share_one_stock_cup():
    model = kitchen()
    found = model.suggest(Brief(must_have=("pear",), bases=("oat",), never=("mint",)), 6)
    stock = stock_cups(found, model.shelf)
    pairs = [s for s in found if len(s.recipe.doses) == 2]
    assert len(pairs) >= 2
    assert stock[0].base_id == "oat"
    assert stock[0].saved_g == pytest.approx(200 * len(stock[0].partners) - stock[0].base_g)
    assert stock[0].saved_g > 0


def test_cups_per_bottle_counts_whole_servings():
    shelf = Shelf.of(BASES, FLAVOURINGS)
    assert cups_per_bottle(shelf, {"plum": 7.0, "pear": 1.0}) == {"plum": 14}


def test_a_pre_dilution_mixes_facts_by_mass():
    thin = predilute(FLAVOURING["clove"], BASES[0], 10, Shelf.of([], []))
    assert thin.flavouring_id == "clove-1in10-oat"
    assert thin.energy_kcal_per_g == pytest.approx(0.1 * 5 + 0.9 * 0.45)
    assert thin.ethanol_g_per_g == pytest.approx(0.07)
    assert thin.label_dose_g_per_kg == pytest.approx(20)
    assert thin.allergens == {"gluten"}
    assert predilute(FLAVOURING["mystery"], BASES[0], 10, Shelf.of([], [])).allergens is None
    assert predilute(FLAVOURING["mystery"], None, 10, Shelf.of([], [])).energy_kcal_per_g is None
    assert predilute(FLAVOURING["mint"], None, 10, Shelf.of([], [])).max_dose_g_per_kg == pytest.approx(7)


def test_a_replay_finds_the_best_cup_no_later_than_chance():
    palate = simulated.make_palate(4, 2, 5)
    log = palate.log(40, np.random.default_rng(4))
    shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df)
    model = learn_shelf(shelf, log)
    told = []
    found = replay(model, partial(fit, shelf), repeats=2, progress=told.append)
    assert told == [0.5, 1.0]
    assert found.best in history(model)
    assert 1 <= found.planned_trials <= 40
    assert 1 <= found.own_trials <= 40
    assert found.planned_trials <= found.by_chance
    assert "best cup so far" in str(found)


def test_a_replay_sees_only_the_part_of_a_stepped_cup_that_it_has_poured():
    rows = []
    for i, f in enumerate(["plum", "pear", "clove", "almond"]):
        for b, base in enumerate(["oat", "rice"]):
            parts = ({f: 10.0}, {f: 10.0, "mint": 5.0})
            for reading, doses in enumerate(parts, start=1):
                liking = 9 if (i, b, reading) == (2, 1, 1) else 3 + (i + b + reading) % 3
                common = {"trial_id": f"{base}{f}", "base_id": base, "reading": reading, "liking": liking}
                rows += [{**common, "flavouring_id": g, "dose_g_per_kg": d, "strength": 3} for g, d in doses.items()]
    model = learn_shelf(Shelf.of(BASES, FLAVOURINGS), pd.DataFrame(rows))
    seen = []

    def learn(log):
        seen.append(sorted(set(zip(log.cup.tolist(), log.recipes.count.tolist(), strict=True))))
        return fit(model.shelf, log)

    found = replay(model, learn, given=2, repeats=1)
    assert found.combinations == 16
    assert found.best == ("rice", ("clove",))
    assert found.own_trials == 11
    assert seen[0] == [(0, 1), (0, 2)]
    assert [len(cups) for cups in seen] == list(range(2, len(seen) + 2))


def test_a_short_log_cannot_be_replayed():
    model = empty_model()
    with pytest.raises(LogError, match="a replay needs 8"):
        replay(model, partial(fit, model.shelf))


def test_the_work_of_suggesting_grows_far_less_than_the_recipes_looked_at():
    few, many = palate_model(n_bases=3, n_flavourings=12), palate_model()
    assert len(candidates(many, Brief())) > 7 * len(candidates(few, Brief()))
    taken = [steps(partial(model.suggest, Brief(), 3)) for model in (few, many)]
    assert taken[1] <= 2 * taken[0]
