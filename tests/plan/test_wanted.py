"""Hard limits and goals that plugins bring to planning."""

import numpy as np
import pytest
from plan_kitchen import kitchen_log, shelf

from pairing.api import Goal, Limit
from pairing.errors import BriefError
from pairing.host.rules import hosted_goal, hosted_limit
from pairing.learned import learn_shelf
from pairing.model.brief import Brief


def limit(passes, **more):
    about = {"id": "mine", "summary": "only what I like", "source": "invented"}
    because = more.pop("because", lambda recipe, table: f"{len(recipe.doses)} of {int(table.n_flavourings[0])}")
    return hosted_limit("lab", Limit(**about, passes=passes, because=because, **more))


def goal(feature, points=1.0, **more):
    about = {"id": "used", "summary": "what is open", "source": "invented"}
    return hosted_goal("lab", Goal(**about, points=points, feature=feature, because=lambda r: "it is open", **more))


def inside(table, name):
    return table.incidence[:, table.flavouring_ids.index(name)]


def model(*rules):
    return learn_shelf(shelf(), kitchen_log(), rules=rules)


def kinds(suggestion, kind):
    return [reason for reason in suggestion.reasons if reason.kind == kind]


def test_what_does_not_pass_a_limit_is_never_suggested_and_the_answer_says_why():
    found = model(limit(lambda table: ~inside(table, "plum"))).suggest(n=20)
    assert found
    assert not any("plum" in suggestion.recipe.doses for suggestion in found)
    (said,) = kinds(found[0], "limit")
    assert str(said) == "only what I like (lab:mine): leaves out plum"


def test_a_limit_sees_the_doses_that_would_be_suggested():
    plain = max(s.recipe.doses.get("plum") or 0 for s in model().suggest(n=20))
    found = model(limit(lambda table: table.dose_g_per_kg.max(axis=1) < plain / 2)).suggest(n=20)
    assert found
    assert all(max(s.recipe.doses.values()) < plain / 2 for s in found)


def test_what_is_unknown_does_not_pass():
    found = model(limit(lambda table: np.ones(len(table), bool), needs=("energy_kcal_per_g",))).suggest(n=20)
    assert found
    assert not any("mystery" in suggestion.recipe.doses for suggestion in found)


def test_where_nothing_is_left_the_limit_is_named_with_its_words():
    with pytest.raises(BriefError) as none:
        model(limit(lambda table: table.n_flavourings > 5)).suggest(Brief(max_added_kcal=500))
    assert "lab:mine" in none.value.message
    assert "lab:mine leaves out plum in oat: 1 of 1" in none.value.hint
    assert "without lab:mine:" in none.value.hint


def test_a_limit_with_a_fault_is_off_and_named():
    broken = model(limit(lambda table: 1 / 0))
    assert broken.suggest(n=3)
    (fault,) = broken.faults
    assert "rule lab:mine skipped" in fault.line
    unsure = model(limit(lambda table: np.ones(len(table))))
    assert unsure.suggest(n=3)
    assert "True or False is needed" in unsure.faults[0].line


def test_a_goal_adds_to_what_a_trial_is_worth_and_says_so():
    first = model().suggest(n=1)[0].recipe
    other = next(name for name in ("pear", "clove", "almond", "plum") if name not in first.doses)
    wanted = model(goal(lambda table: inside(table, other) * 1.0)).suggest(n=3)
    assert all(other in suggestion.recipe.doses for suggestion in wanted)
    (said,) = kinds(wanted[0], "goal")
    assert str(said) == "it is open (lab:used): worth +1.0 points"
    (worth,) = kinds(wanted[0], "worth")
    assert worth.points < 1.0, "what a cup teaches is told by itself"


def test_a_goal_of_no_points_changes_nothing():
    asked = [s.recipe for s in model().suggest(n=5)]
    assert [s.recipe for s in model(goal(lambda table: inside(table, "pear") * 1.0, points=0.0)).suggest(n=5)] == asked
