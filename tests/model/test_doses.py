"""Dose arithmetic there and back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import QuantityError
from pairing.model import doses
from pairing.model.flavouring import Flavouring

PLUM = Flavouring(flavouring_id="plum", name="Plum", drop_mg=36, density_g_per_ml=1.2)


def test_finished_mass_and_grams_by_hand():
    assert doses.finished_g(300, {"a": 100, "b": 150}) == pytest.approx(400)
    assert doses.grams(300, {"a": 100, "b": 150}) == pytest.approx({"a": 40, "b": 60})


def test_a_plain_cup_is_its_base():
    assert doses.finished_g(250, {}) == 250
    assert doses.grams(250, {}) == {}


@given(
    st.floats(1, 20_000),
    st.dictionaries(st.sampled_from("abcdef"), st.floats(0, 160), max_size=6),
)
def test_masses_add_up_and_doses_come_back(base_g, wanted):
    masses = doses.grams(base_g, wanted)
    total = doses.finished_g(base_g, wanted)
    assert base_g + math.fsum(masses.values()) == pytest.approx(total, rel=1e-9)
    for name, dose in wanted.items():
        assert 1000 * masses[name] / total == pytest.approx(dose, rel=1e-9, abs=1e-12)


@given(st.floats(1e-6, 1e4), st.floats(0.3, 2))
def test_millilitres_come_back(grams, density):
    bottle = Flavouring(flavouring_id="x", name="X", density_g_per_ml=density)
    assert doses.ml(grams, bottle) * density == pytest.approx(grams)


@pytest.mark.parametrize("base_g", [0, -1, math.nan, math.inf])
def test_impossible_bases_are_refused(base_g):
    with pytest.raises(QuantityError, match="above 0 g"):
        doses.finished_g(base_g, {})


@pytest.mark.parametrize("wanted", [{"a": 1000}, {"a": 600, "b": 400}, {"a": -1}, {"a": math.nan}])
def test_doses_without_room_for_the_base_are_refused(wanted):
    with pytest.raises(QuantityError, match="below 1000"):
        doses.finished_g(100, wanted)


def test_without_facts_a_gram_is_a_millilitre():
    assert doses.ml(3) == 3
    assert doses.ml(3, PLUM) == pytest.approx(2.5)
