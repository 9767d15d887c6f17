"""Energy: what is unknown stays unknown, a label's zero is a range, columns are not counted twice."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import QuantityError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.nutrition.energy import base_energy, energy_of, energy_per_g, energy_per_g_kj
from pairing.nutrition.factors import CARRIERS, carrier_named


def flavouring(**facts):
    return Flavouring(flavouring_id="x", name="X", **facts)


def test_an_empty_composition_is_unknown():
    found = energy_per_g(flavouring())
    assert found.value is None
    assert not found.known
    assert (found.low, found.high) == (0, 9)
    assert "fat, protein, carbohydrate" in found.source


def test_half_a_composition_is_a_lower_bound():
    found = energy_per_g(flavouring(sugars_g_per_g=0.5, carbohydrate_g_per_g=0.6))
    assert found.value is None
    assert found.low == pytest.approx(2.4)


def test_a_carrier_without_its_amount_is_unknown():
    zeros = {"fat_g_per_g": 0, "protein_g_per_g": 0, "carbohydrate_g_per_g": 0}
    assert energy_per_g(flavouring(**zeros, carrier="ethanol")).value is None
    assert energy_per_g(flavouring(**zeros, carrier="water")).value == 0
    assert energy_per_g(flavouring(**zeros, carrier="ethanol:0.5")).value == pytest.approx(3.5)


def test_a_label_comes_before_the_composition():
    found = energy_per_g(flavouring(energy_kcal_per_g=2, fat_g_per_g=1, protein_g_per_g=0, carbohydrate_g_per_g=0))
    assert (found.low, found.value, found.high, found.source) == (2, 2, 2, "label")


@pytest.mark.parametrize(
    ("carrier", "high"),
    [
        ("propylene glycol", 4.0),
        ("water", 0.0),
        ("ethanol:0.5;water:0.5", 3.5),
        (None, 9.0),
        ("beet dust", 9.0),
        ("oil", 9.0),
    ],
)
def test_a_labels_zero_is_what_the_carrier_allows(carrier, high):
    found = energy_per_g(flavouring(energy_kcal_per_g=0, carrier=carrier))
    assert (found.low, found.value, found.known) == (0, 0, True)
    assert found.high == pytest.approx(high)
    assert "rounded" in found.source


def test_a_labels_zero_is_also_what_rounding_allows():
    found = energy_per_g(flavouring(energy_kcal_per_g=0, label_dose="30 g per 240 g"))
    assert found.high == pytest.approx(5 / (1000 * 30 / 270 * 0.24), rel=1e-6)
    assert energy_per_g(flavouring(energy_kcal_per_g=0, label_dose="to taste")).high == 9


def test_polyols_inside_and_beside_carbohydrate():
    inside, _ = energy_of({"fat": 0, "protein": 0, "carbohydrate": 0.7, "sugars": 0.1, "polyols": 0.6}, None)
    beside, _ = energy_of({"fat": 0, "protein": 0, "carbohydrate": 0.1, "sugars": 0.1, "polyols": 0.6}, None)
    assert inside.value == beside.value == pytest.approx(0.1 * 4 + 0.6 * 2.4)


def test_a_carrier_is_not_counted_beside_its_column():
    same = {"fat": 0, "protein": 0, "carbohydrate": 0, "polyols": 0.7, "ethanol": 0.2}
    twice, _ = energy_of(same, {"glycerol": 0.7, "ethanol": 0.2})
    once, _ = energy_of({**same, "polyols": None, "ethanol": None}, {"glycerol": 0.7, "ethanol": 0.2})
    assert twice.value == once.value == pytest.approx(0.7 * 2.4 + 0.2 * 7)
    oil, _ = energy_of({"fat": 0.9, "protein": 0, "carbohydrate": 0}, {"sunflower oil": 0.9})
    assert oil.value == pytest.approx(8.1)


def test_allulose_counts_by_jurisdiction():
    grams = {"fat": 0, "protein": 0, "carbohydrate": 1.0}
    assert energy_of(grams, {"allulose": 1.0}, "US")[0].value == pytest.approx(0.4)
    assert energy_of(grams, {"allulose": 1.0}, "EU")[0].value == pytest.approx(4)


def test_sweeteners_that_are_polyols_count():
    zeros = {"fat_g_per_g": 0, "protein_g_per_g": 0, "carbohydrate_g_per_g": 1.0, "polyols_g_per_g": 1.0}
    assert energy_per_g(flavouring(**zeros, sweeteners="erythritol:1000")).value == pytest.approx(0)
    assert energy_per_g(flavouring(**zeros)).value == pytest.approx(2.4)


parts = st.floats(0, 0.2)


@given(
    st.fixed_dictionaries(
        {n: parts for n in ("fat", "protein", "carbohydrate", "polyols", "fibre", "acids", "ethanol")}
    ),
    st.sampled_from([c.name for c in CARRIERS]),
    parts,
    st.sampled_from(["EU", "US"]),
)
def test_energy_is_bounded_by_physics(grams, carrier, amount, jurisdiction):
    kcal, kj = energy_of({**grams, "sugars": 0.0}, {carrier: amount}, jurisdiction)
    total = math.fsum(grams.values()) + amount
    assert -1e-9 <= kcal.low <= kcal.value + 1e-9
    assert kcal.value <= kcal.high + 1e-9
    assert kcal.value <= 9 * total + 1e-9
    assert kj.value == pytest.approx(kcal.value * 4.184, rel=0.09, abs=1e-9)


def test_unknown_jurisdiction_is_refused():
    with pytest.raises(QuantityError, match="Mars"):
        energy_per_g(flavouring(), "Mars")


def test_kilojoules_of_an_unknown_energy_are_unknown():
    assert energy_per_g_kj(flavouring()).value is None
    assert base_energy(Base(base_id="b", name="B")) is None


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("Vegetable glycerine", "glycerol"),
        ("PG", "propylene glycol"),
        ("propane-1,2-diol", "propylene glycol"),
        ("alcohol 40 %", "ethanol"),
        ("MCT oil", "oil"),
        ("E 1520", "propylene glycol"),
        ("glycerol (E 422)", "glycerol"),
        ("E 967", "xylitol"),
        ("alcohol-free", None),
        ("upgraded sugar", None),
    ],
)
def test_carriers_by_the_words_of_labels(word, name):
    found = carrier_named(word)
    assert (found.name if found else None) == name
