from collections import Counter

import numpy as np
import pytest

from pairing.blind.orders import ARRANGEMENTS
from pairing.blind.plan import plan
from pairing.blind.safe import refuse_stops
from pairing.errors import LogError, PairingError, QuantityError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster

A, B = Recipe("oat", {"plum": 2.0}), Recipe("oat", {"plum": 1.0})


@pytest.mark.parametrize(
    ("method", "question"),
    [("paired", "stronger"), ("paired", "prefer"), ("3-afc", "closer"), ("triangle", "odd"), ("duo-trio", "odd")],
)
def test_codes_are_distinct_within_every_session(method, question):
    check = plan(A, B, method=method, question=question, servings=48, per_session=8, target="cake", random_state=1)
    assert [s.number for s in check.servings] == list(range(1, 49))
    for session in range(1, 7):
        drawn = [code for s in check.servings if s.session == session for code in s.codes]
        assert len(drawn) == len(set(drawn)) == 8 * (3 if method in ("3-afc", "triangle") else 2)
    assert set(Counter(s.reference + s.contents for s in check.servings).values()) == {48 // len(ARRANGEMENTS[method])}


def test_long_checks_use_codes_again_only_in_later_sessions():
    check = plan(A, B, method="triangle", question="odd", servings=400, per_session=10, random_state=0)
    codes = [code for s in check.servings for code in s.codes]
    assert len(set(codes)) < len(codes)
    for session in {s.session for s in check.servings}:
        mine = [code for s in check.servings if s.session == session for code in s.codes]
        assert len(set(mine)) == len(mine)


def test_same_seed_same_plan_and_ids_differ_without_one():
    assert plan(A, B, random_state=4).servings == plan(A, B, random_state=4).servings
    assert plan(A, B).check_id != plan(A, B).check_id
    assert plan(A, B, random_state=np.random.default_rng(4)).servings == plan(A, B, random_state=4).servings


def test_a_preference_is_two_sided_and_a_directed_question_is_not():
    assert plan(A, B, question="prefer").two_sided
    assert not plan(A, B, question="stronger").two_sided
    assert plan(A, B, question="stronger", expect_a=False).two_sided
    assert not plan(A, B, method="3-afc").two_sided


def test_a_fixed_check_has_the_number_that_its_power_needs():
    assert len(plan(A, B, sequential=False).servings) == 30
    assert len(plan(A, B, sequential=False, power=0.8).servings) == 23
    assert len(plan(A, B, servings=12).servings) == 12
    assert not plan(A, B, servings=12).sequential


@pytest.mark.parametrize(
    ("changes", "error", "message"),
    [
        ({"servings": 0}, QuantityError, "0 servings cannot be planned, allowed is 1 to 1000"),
        ({"servings": True}, QuantityError, "True servings cannot be planned"),
        ({"servings": 20.5}, QuantityError, "20.5 servings cannot be planned"),
        ({"servings": 10_000}, QuantityError, "10000 servings cannot be planned"),
        ({"servings": 4}, QuantityError, "cannot show any difference at a risk of 0.05 — plan at least 5"),
        ({"per_session": 0}, QuantityError, "0 servings a session"),
        ({"d_prime": 0}, QuantityError, "d′ = 0 cannot be planned"),
        ({"alpha": 0}, QuantityError, "alpha is 0"),
        ({"power": 1}, QuantityError, "power is 1"),
        ({"method": "square"}, LogError, "method 'square' is not known"),
        ({"method": "triangle"}, LogError, "'stronger' does not go with triangle — ask odd"),
        ({"question": "nicer"}, LogError, "'nicer' does not go with paired — ask stronger or prefer or closer"),
        ({"b": A}, LogError, "same recipe"),
        ({"b": "oat|clove"}, LogError, "dose of clove is open"),
        ({"b": "t-17"}, PairingError, "is no recipe"),
    ],
)
def test_what_cannot_be_planned(changes, error, message):
    with pytest.raises(error, match=message):
        plan(**{"a": A, "b": B, **changes})


@pytest.mark.parametrize("who", ["a\x1b[31m", "\udcff", " "])
def test_a_taster_that_no_table_would_take_is_refused_before_the_first_serving(who):
    with pytest.raises(PairingError, match="taster"):
        plan("oat|plum=2", "oat|plum=1", taster=who)


def test_closer_to_nothing_is_refused():
    with pytest.raises(LogError, match="no target"):
        plan("oat|plum=2", "oat|plum=1", question="closer", target=" ")


def test_a_child_is_not_served_a_full_session():
    plain = {"allergens": "none", "sweeteners": "none", "carrier": "water:1", "food_use": "yes"}
    plum = Flavouring(flavouring_id="plum", name="Plum", caffeine_mg_per_g=0, ethanol_g_per_g=0, **plain)
    oat = Base(base_id="oat", name="Oat", caffeine_mg_per_100g=0, ethanol_g_per_100g=0, sweeteners="none")
    shelf = Shelf.of([oat], [plum], [Taster(taster="kim", age_years=9)])
    with pytest.raises(LogError, match="a session has 12 cups, allowed is 4"):
        refuse_stops(plan(A, B, taster="kim", random_state=0), shelf)
    refuse_stops(plan(A, B, taster="kim", per_session=2, random_state=0), shelf)
    refuse_stops(plan(A, B, taster="ana", random_state=0), shelf)
