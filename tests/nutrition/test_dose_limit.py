"""From which dose on a cup is said to be too strong."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.dose_limit import dose_limit, high_doses

OAT = Base(base_id="oat", name="Oat")
PUREE = Flavouring(flavouring_id="puree", name="Apple puree", label_dose="300 g/kg")
SHELF = Shelf.of([OAT], [PUREE])


def test_what_a_pre_dilution_leaves_of_a_maximum_is_the_limit_and_nothing_is_none():
    neat = Flavouring(flavouring_id="clove", name="Clove", max_dose_g_per_kg=2)
    thin = Flavouring(flavouring_id="thin", name="Thin clove", max_dose_g_per_kg=20, version_of="clove")
    shelf = Shelf.of([OAT], [neat, thin])
    left = [dose_limit(neat, OAT, shelf, {"thin": dose}).g_per_kg for dose in (0.0, 5.0, 20.0, 30.0)]
    assert left == pytest.approx([2.0, 1.5, 0.0, 0.0])


@pytest.mark.parametrize("overridden", [(), ("puree",)])
def test_more_than_half_of_the_drink_is_told_whatever_the_label_allows(overridden):
    assert not list(high_doses({"puree": 500.0}, OAT, SHELF, overridden))
    (high,) = high_doses({"puree": 500.5}, OAT, SHELF, overridden)
    assert (high.most_g_per_kg, high.is_maximum) == (500.0, False)
