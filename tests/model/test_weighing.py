"""A cup made without a shelf is weighed again by the shelf that it comes to; the words of its steps are what counts."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import CupError
from pairing.model.base import Base
from pairing.model.cup import Cup
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.model.weighing import amended, weighed
from pairing.safety.swallowed import tally

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat")],
    [
        Flavouring(flavouring_id="plum", name="Plum", drop_mg=50),
        Flavouring(flavouring_id="mint", name="Mint", density_g_per_ml=1.3),
    ],
)

amounts = st.sampled_from(["drops", "ml", "g"]), st.floats(0.1, 40)
steps = st.one_of(
    st.tuples(st.just("add"), st.sampled_from(["plum", "mint"]), *amounts),
    st.tuples(st.just("sip"), st.none(), st.none(), st.floats(0.1, 3)),
    st.tuples(st.just("split"), st.none(), st.none(), st.floats(20, 30)),
    st.tuples(st.just("pour"), st.none(), st.none(), st.floats(1, 50)),
)


def made(cup, todo):
    for kind, item, unit, exact in todo:
        amount = round(exact, 3)
        if kind == "add":
            cup = cup.add(item, **{unit: amount}).read(strength={item: 2})
        elif kind == "split":
            cup = cup.split(g=amount)[1]
        else:
            cup = getattr(cup, kind)(g=amount)
    return cup


@given(st.lists(steps, max_size=6))
def test_it_comes_to_what_the_shelf_would_have_weighed(todo):
    without = weighed(made(Cup("oat", 400, trial_id="t"), todo), SHELF)
    known = made(Cup("oat", 400, trial_id="t", shelf=SHELF), todo)
    assert without.dose_g_per_kg == pytest.approx(dict(known.dose_g_per_kg), rel=1e-9)
    assert without.content_g == pytest.approx(known.content_g, rel=1e-9)
    for one, other in zip(without.readings, known.readings, strict=True):
        assert one.dose_g_per_kg == pytest.approx(dict(other.dose_g_per_kg), rel=1e-9)
        assert one.strength == other.strength


def test_grams_and_a_cup_with_a_shelf_stay_as_they_are():
    by_mass = Cup("oat", 400, trial_id="t").add("plum", g=0.385).sip(10).read(strength={"plum": 2})
    assert weighed(by_mass, SHELF) == by_mass
    light = Shelf.of([], [Flavouring(flavouring_id="plum", name="Plum", drop_mg=20)])
    own = Cup.from_steps("oat", Cup("oat", 400).add("plum", drops=10).steps, trial_id="t", shelf=light)
    assert weighed(own, SHELF) is own


def test_a_mass_that_is_not_the_default_drops_is_kept():
    pour, add = Cup("oat", 400, trial_id="t").add("plum", drops=10).steps
    restored = Cup.from_steps("oat", [pour, replace(add, amount_g=0.42)], trial_id="t")
    assert weighed(restored, SHELF).steps[1].amount_g == 0.42


def test_what_was_swallowed_is_weighed_too():
    cup = Cup("oat", base_g=99.5).add("plum", drops=10).sip(20)
    assert math.isclose(tally([cup], SHELF).grams["plum"], 0.1)


@given(st.lists(steps, max_size=6), st.floats(0.1, 40))
def test_another_amount_comes_to_what_would_have_been_made_with_it(todo, exact):
    amount = round(exact, 3)
    first = Cup("oat", 400, trial_id="t", shelf=SHELF).sip(5).add("plum", g=2.0).read()
    other = Cup("oat", 400, trial_id="t", shelf=SHELF).sip(5).add("plum", drops=amount).read()
    for one, meant in zip(
        amended(made(first, todo), {2: f"{amount} drops"}).readings, made(other, todo).readings, strict=True
    ):
        if not any(kind == "split" for kind, *_ in todo):  # what is split off keeps its mass, not its share
            assert one.dose_g_per_kg == pytest.approx(dict(meant.dose_g_per_kg), rel=1e-9)


def test_what_has_no_amount_or_does_not_follow_is_refused():
    cup = Cup("oat", 400, shelf=SHELF).add("plum", g=2.0).sip(5).read()
    with pytest.raises(CupError, match="a sip has no amount to correct"):
        amended(cup, {2: "9 g"})
    with pytest.raises(CupError, match="not in grams"):
        amended(cup, {0: "3 drops"})
    by_hand = replace(cup.readings[0], dose_g_per_kg={"plum": 9.0})
    odd = Cup.from_steps("oat", cup.steps, trial_id="t", readings=[by_hand], shelf=SHELF)
    with pytest.raises(CupError, match="does not follow from what went in"):
        amended(odd, {1: "3 g"})
