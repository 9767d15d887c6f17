import itertools
import math
import pickle
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import simulated
from plan_kitchen import ANA, BASES, BO, FLAVOURINGS, empty_model, kitchen, kitchen_log, palate_model, shelf

from pairing import Brief, Recipe
from pairing.errors import BriefError, UnknownIdError
from pairing.learned import learn_shelf
from pairing.model.shelf import Shelf
from pairing.nutrition.serving import serving
from pairing.plan.dilution import predilute
from pairing.plan.history import history

KNOWN = {f.flavouring_id: f for f in FLAVOURINGS}


def test_a_suggestion_is_complete_and_agrees_with_what_the_model_and_the_kitchen_scale_say():
    model = kitchen()
    for one in model.suggest(Brief(), 5):
        assert 1 <= len(one.recipe.doses) <= 2
        assert all(d > 0 and math.isfinite(d) for d in one.recipe.doses.values())
        predicted = model.predict([one.recipe]).iloc[0]
        assert one.liking == pytest.approx(predicted["liking"])
        assert one.liking_low == pytest.approx(predicted["liking_low"])
        found = serving(one.recipe, model.shelf)
        assert one.grams == found.grams
        assert one.added_kcal == found.added_kcal
        assert one.purpose in ("new", "confirm", "adjust")
        assert one.likeness is None
        assert one.reasons
        assert one.cautions
        for f in one.recipe.doses:
            assert one.dose_low[f] < one.dose_high[f]


def test_same_log_and_seed_same_suggestions_and_asking_changes_nothing():
    model = kitchen()
    before = pickle.dumps(model.log)
    first = model.suggest(Brief(), 4, random_state=3)
    assert model.suggest(Brief(), 4, random_state=3) == first
    assert learn_shelf(model.shelf, kitchen_log()).suggest(Brief(), 4, random_state=3) == first
    assert pickle.dumps(model.log) == before


def test_no_recipe_twice_and_a_longer_list_begins_like_a_shorter_one():
    model = palate_model()
    long, short = model.suggest(Brief(), 6, random_state=0), model.suggest(Brief(), 2, random_state=0)
    assert [s.recipe for s in long[:2]] == [s.recipe for s in short]
    keys = {(s.recipe.base_id, s.recipe.flavouring_ids) for s in long}
    assert len(keys) == 6


def test_a_batch_does_not_ask_one_question_five_times():
    """Five picks by their worth alone crowd around one guess; conditioned on each other they spread further."""
    from pairing.plan.batch import choose
    from pairing.plan.candidates import candidates

    spread, crowd, often = 0, 0, 0
    for seed in range(5, 17):
        model = palate_model(seed)
        pool = candidates(model, Brief())
        batch = choose(model, Brief(), pool, 5, np.random.default_rng(0))
        assert batch[0].worth >= batch[-1].worth
        assert batch[0].row == _by_worth_alone(model, pool)[0], "chance only parts what is worth the same"
        spread += _shared(pool, [c.row for c in batch])
        crowd += _shared(pool, _by_worth_alone(model, pool))
        often = max(often, *Counter(f for c in batch for f in pool.flavouring_ids[c.row]).values())
    assert spread < crowd
    assert often == 3, "a choice of five is various: no flavouring in more than three while others come near"


def test_where_every_cup_must_hold_a_flavouring_all_five_do():
    model = palate_model()
    only = model.suggest(random_state=0)[0].recipe.flavouring_ids[0]
    found = model.suggest(Brief(must_have=[only]), random_state=0)
    assert [only in s.recipe.flavouring_ids for s in found] == [True] * 5


def _shared(pool, rows):
    """How many flavourings and bases the picks have in common, pair by pair."""
    parts = [{*pool.flavouring_ids[row], f"base {pool.base_ids[row]}"} for row in rows]
    return sum(len(one & other) for one, other in itertools.combinations(parts, 2))


def _by_worth_alone(model, pool):
    from pairing.plan.batch import _reference, _shortlist
    from pairing.plan.objective import Objective

    objective = Objective(model.response)
    mean, sd = objective.predict(pool)
    tried = np.array([pool.key(i) in history(model) for i in range(len(pool))])
    rows = _shortlist(mean, sd, tried)
    joint = objective.joint(pool.take(rows), mean[rows])
    worth = joint.worth(np.arange(len(rows)), _reference(joint.mean, sd[rows], tried[rows]))
    return rows[np.argsort(-worth)[:5]].tolist()


def test_every_taster_present_is_respected_and_nobody_named_means_everybody():
    model = kitchen(ANA, BO)
    for brief in (Brief(), Brief(tasters=("ana", "bo"))):
        used = {f for s in model.suggest(brief, 20) for f in s.recipe.doses}
        assert not used & {"almond", "clove", "mystery"}
    assert any("clove" in s.recipe.doses for s in model.suggest(Brief(tasters=("ana",)), 30))
    assert any("almond" in s.recipe.doses for s in model.suggest(Brief(tasters=("bo",)), 30))


def test_a_guest_is_served_and_the_caution_says_that_allergens_are_not_known():
    found = kitchen(ANA, BO).suggest(Brief(tasters=("new",)), 1)
    assert any("new" in caution.people for caution in found[0].cautions)


def test_without_limits_nothing_is_left_out_for_being_unknown():
    used = {f for s in kitchen().suggest(Brief(), 40) for f in s.recipe.doses}
    bases = {s.recipe.base_id for s in kitchen().suggest(Brief(), 40)}
    assert "mystery" in used
    assert "brew" in bases


def test_a_limit_on_an_unknown_value_leaves_out_and_says_so():
    found = kitchen().suggest(Brief(max_added_kcal=30), 20)
    assert all("mystery" not in s.recipe.doses for s in found)
    unknown = [(r.what, r.item_ids) for r in found[0].reasons if r.kind == "unknown"]
    assert unknown == [("energy", ("mystery",)), ("food use", ("perfume",))]


def test_must_have_never_on_hand_and_bases():
    model = kitchen()
    found = model.suggest(Brief(must_have=("pear",), never=("clove",), bases=("rice",), max_flavourings=3), 10)
    for one in found:
        assert "pear" in one.recipe.doses
        assert "clove" not in one.recipe.doses
        assert one.recipe.base_id == "rice"
    assert any(len(s.recipe.doses) == 3 for s in model.suggest(Brief(max_flavourings=3), 40))
    used = {f for s in model.suggest(Brief(on_hand=("plum", "clove")), 10) for f in s.recipe.doses}
    assert used == {"plum", "clove"}


def test_what_stock_cannot_make_is_left_out_and_cups_left_are_said():
    found = kitchen().suggest(Brief(), 40)
    assert all("mint" not in s.recipe.doses for s in found)
    with_plum = next(s for s in found if "plum" in s.recipe.doses)
    assert any("left in the bottle of plum" in str(reason) for reason in with_plum.reasons)


def test_a_dose_is_lowered_to_an_accent_where_that_meets_the_limit():
    model = kitchen()
    free = next(s for s in model.suggest(Brief(bases=("oat",), on_hand=("plum",)), 1))
    limit = 0.8 * free.added_kcal
    eased = model.suggest(Brief(bases=("oat",), on_hand=("plum",), max_added_kcal=limit), 1)[0]
    assert eased.added_kcal == pytest.approx(limit, rel=0.01)
    assert eased.recipe.doses["plum"] < free.recipe.doses["plum"]
    assert any("lowered to keep the limits" in str(reason) for reason in eased.reasons)


def test_when_nothing_is_left_the_error_says_which_limits_would_free_how_many():
    model = kitchen()
    with pytest.raises(BriefError) as caught:
        model.suggest(Brief(max_added_kcal=0.01, bases=("oat",)), 3)
    assert "max_added_kcal 0.01" in caught.value.message
    freed = len(model.suggest(Brief(bases=("oat",)), 50))
    assert f"without max_added_kcal 0.01: {freed}" in caught.value.hint
    with pytest.raises(BriefError, match=r"without max_added_kcal 0\.01 and max_added_cost 0\.0001"):
        model.suggest(Brief(max_added_kcal=0.01, max_added_cost=0.0001), 3)
    with pytest.raises(BriefError, match="food use"):
        model.suggest(Brief(on_hand=("perfume",)), 3)


@pytest.mark.parametrize("name", ["max_added_kcal", "max_added_cost", "serving_g"])
def test_when_nothing_is_left_a_value_that_frees_some_is_named(name):
    model, impossible = kitchen(), 2e4 if name == "serving_g" else 0.0
    asked = {"on_hand": ("mint",)} if name == "serving_g" else {}
    with pytest.raises(BriefError) as caught:
        model.suggest(Brief(**{name: impossible}, **asked), 3)
    value = re.search(rf"\({name} ([\d.]+) is", caught.value.hint)[1]
    assert model.suggest(Brief(**{name: float(value)}, **asked), 3)
    assert len(value.replace(".", "").strip("0")) <= 3, "nobody reads more digits"


def test_a_limit_below_the_plain_base_is_told_as_such():
    with pytest.raises(BriefError, match=r"plain serving .* has 90 kcal"):
        kitchen().suggest(Brief(max_total_kcal=80, bases=("oat",)), 3)


def test_unknown_ids_offer_the_nearest():
    model = kitchen()
    for brief, near in (
        (Brief(bases=("oatt",)), "oat"),
        (Brief(must_have=("plums",)), "plum"),
        (Brief(never=("cloves",)), "clove"),
        (Brief(on_hand=("peer",)), "pear"),
        (Brief(tasters=("anna",)), "ana"),
    ):
        with pytest.raises(UnknownIdError, match=near):
            model.suggest(brief, 1)
    with pytest.raises(UnknownIdError, match="target"):
        model.suggest(Brief(goal="likeness", target_id="sea"), 1)


@pytest.mark.parametrize("n", [0, -1, 501, 2.5, True])
def test_an_impossible_number_of_suggestions_is_refused(n):
    with pytest.raises(BriefError, match="n is"):
        kitchen().suggest(Brief(), n)


def test_purposes():
    model = kitchen()
    base_id, ids = next(key for key, c in history(model).items() if c.cups == 1 and len(key[1]) == 2)
    tried = model.suggest(Brief(must_have=ids, bases=(base_id,)), 1)[0]
    assert tried.purpose in ("confirm", "adjust")
    assert tried.reasons[0].kind == tried.purpose
    assert str(tried.reasons[0]).startswith(tried.purpose)
    never = model.suggest(Brief(bases=("brew",)), 1)[0]
    assert never.purpose == "new"


def test_a_dose_that_read_wrong_is_an_adjust_and_one_that_read_right_a_confirm():
    rows = [
        {
            "trial_id": f"x{i}",
            "base_id": "oat",
            "flavouring_id": "plum",
            "dose_g_per_kg": dose,
            "strength": word,
            "liking": liking,
            "taster": "ana",
            "reading": 1.0,
        }
        for i, (dose, word, liking) in enumerate([(14.0, 1, 5), (15.0, 1, 5), (14.5, 1, 5)])
    ]
    only = Brief(on_hand=("plum",), bases=("oat",), max_flavourings=1)
    found = learn_shelf(shelf(), pd.DataFrame(rows)).suggest(only, 1)[0]
    assert found.purpose == "adjust"
    assert "('much too weak'), " in str(found.reasons[0])
    assert "should be right" in str(found.reasons[0])
    called_right = replace(found.reasons[0], strength=3)  # what somebody said is not contradicted, but weighed
    assert "('just right') there, yet all in all " in str(called_right)
    right = [{**row, "dose_g_per_kg": 30.0, "strength": 3, "liking": 7} for row in rows]
    assert learn_shelf(shelf(), pd.DataFrame(right)).suggest(only, 1)[0].purpose == "confirm"


def test_reasons_give_the_evidence_in_numbers():
    said = " ".join(str(reason) for s in palate_model().suggest(Brief(), 5) for reason in s.reasons)
    assert "points in" in said
    assert "±" in said


def test_an_empty_log_still_gets_suggestions():
    found = empty_model().suggest(Brief(), 3, random_state=1)
    assert len(found) == 3
    assert all(s.purpose == "new" for s in found)


def test_a_planted_pair_that_was_held_out_comes_first_and_with_shuffled_likings_it_does_not():
    """Two halves of a wonderful family pair are known to shine wherever they are; their untried sum is found."""
    palate = simulated.make_palate(3, n_bases=1, n_flavourings=8)
    ids, base = palate.flavouring_ids, palate.base_ids[0]
    rng, rows = np.random.default_rng(0), []
    needed = {f: palate.true_dose(base, f) for f in ids}
    for t in range(60):
        pair = tuple(rng.choice(8, 2, replace=False))
        if {0, 1} == set(pair):
            continue
        score = 4.5 + sum(1.6 for f in pair if f in (0, 1)) + rng.normal(0, 0.4)
        for f in pair:
            rows.append(
                {
                    "trial_id": f"t{t}",
                    "base_id": base,
                    "flavouring_id": ids[f],
                    "dose_g_per_kg": needed[ids[f]],
                    "strength": 3,
                    "liking": float(np.clip(round(score), 1, 9)),
                    "reading": 1.0,
                }
            )
    log = pd.DataFrame(rows)
    model = learn_shelf(simulated_shelf(palate), log)
    assert model.suggest(Brief(), 1)[0].recipe.flavouring_ids == tuple(ids[:2])
    likings = log.groupby("trial_id", sort=False)["liking"].first()
    ranks = []
    for seed in range(8):
        shuffled = dict(zip(likings.index, np.random.default_rng(seed).permutation(likings), strict=True))
        other = learn_shelf(model.shelf, log.assign(liking=log["trial_id"].map(shuffled)))
        ranks.append(other.suggest(Brief(), 1)[0].recipe.flavouring_ids == tuple(ids[:2]))
    assert sum(ranks) <= 2


def simulated_shelf(palate):
    from pairing.model.shelf import Shelf

    return Shelf.from_tables(palate.bases_df, palate.flavourings_df)


def test_likeness_to_a_target_is_planned_for():
    rows = kitchen_log()
    close = rows.groupby("trial_id")["flavouring_id"].transform(lambda f: "clove" in set(f))
    rows = rows.assign(target_id="sea", likeness=np.where(close, 8.0, 2.0))
    model = learn_shelf(shelf(), rows)
    found = model.suggest(Brief(goal="likeness", target_id="sea"), 3)
    assert all("clove" in s.recipe.doses for s in found)
    assert all(0 <= s.likeness <= 10 for s in found)
    assert found[0].likeness > 5
    front = model.front(Brief(goal="likeness", target_id="sea"))
    assert (np.diff(front["likeness"]) > 0).all()
    assert front["likeness"].between(0, 10).all()


def test_a_flavouring_with_a_maximum_dose_of_nothing_is_never_suggested():
    from dataclasses import replace

    from pairing.model.shelf import Shelf

    none = [replace(f, max_dose_g_per_kg=0) if f.flavouring_id == "plum" else f for f in FLAVOURINGS]
    model = learn_shelf(Shelf.of(shelf().bases.values(), none), kitchen_log())
    assert all("plum" not in s.recipe.doses for s in model.suggest(Brief(), 40))
    with pytest.raises(BriefError, match="maximum dose of 0"):
        model.suggest(Brief(must_have=("plum",)), 1)


def test_parts_of_a_base_are_not_drinks():
    from pairing.model.base import Base
    from pairing.model.shelf import Shelf

    powder = Base(base_id="powder", name="Oat powder", energy_kcal_per_100g=400, allergens="gluten")
    mixed = Base(base_id="mixed", name="Oat drink, own", made_from="powder:10;water:90")
    model = learn_shelf(Shelf.of([powder, mixed], FLAVOURINGS), kitchen_log().iloc[:0])
    assert {s.recipe.base_id for s in model.suggest(Brief(), 10)} == {"mixed"}
    assert Recipe("powder", {"plum": 1.0}).base_id == "powder"
    assert {s.recipe.base_id for s in model.suggest(Brief(bases=("powder",)), 2)} == {"powder"}


def test_an_allergen_that_nobody_knows_is_refused_rather_than_kept_out_in_vain():
    with pytest.raises(UnknownIdError, match="mlik") as refused:
        kitchen().suggest(Brief(avoid_allergens="mlik"))
    assert "milk" in refused.value.hint
    assert kitchen().suggest(Brief(avoid_allergens="soya"), 1)  # understood, though nothing on the shelf declares it


@pytest.mark.parametrize("other", ["less sugar", 20, {"max_added_kcal": 20}])
def test_what_is_no_brief_is_refused(other):
    with pytest.raises(BriefError, match="is no brief"):
        kitchen().suggest(other)


def test_a_hundred_trials_may_be_asked_for():
    found = kitchen().suggest(Brief(), 100)
    assert len({(s.recipe.base_id, s.recipe.flavouring_ids) for s in found}) == len(found) > 50


def test_a_dose_that_only_the_label_speaks_for_is_called_a_guess():
    palate = simulated.make_palate(3)
    first = palate.flavouring_ids[:4]
    rng = np.random.default_rng(0)
    rows = [r for i, f in enumerate(first * 2) for r in palate.ladder_trial(f"t{i}", palate.base_ids[0], [f], rng)]
    model = learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), pd.DataFrame(rows))
    for one in model.suggest(Brief(), 8, random_state=0):
        for f in one.recipe.flavouring_ids:
            guess = any(str(r).startswith(f"{f} was never tasted, its dose is a guess") for r in one.reasons)
            assert guess == (f not in first)


def test_two_versions_of_one_flavouring_are_never_in_one_cup():
    model = learn_shelf(
        Shelf.of(BASES, [*FLAVOURINGS, predilute(KNOWN["clove"], BASES[0], 10, Shelf.of([], []))]),
        pd.DataFrame(kitchen_log()),
    )
    both = {"clove", f"clove-1in10-{BASES[0].base_id}"}
    found = model.suggest(Brief(must_have=("clove",)), 20)
    assert not any(both <= set(one.recipe.doses) for one in found)
    with pytest.raises(BriefError, match="two versions of one flavouring"):
        model.suggest(Brief(must_have=tuple(both)), 1)
