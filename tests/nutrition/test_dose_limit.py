"""From which dose on a cup is said to be too strong."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.dose_limit import high_doses

OAT = Base(base_id="oat", name="Oat")
PUREE = Flavouring(flavouring_id="puree", name="Apple puree", label_dose="300 g/kg")
SHELF = Shelf.of([OAT], [PUREE])


@pytest.mark.parametrize("overridden", [(), ("puree",)])
def test_more_than_half_of_the_drink_is_told_whatever_the_label_allows(overridden):
    assert not list(high_doses({"puree": 500.0}, OAT, SHELF, overridden))
    (high,) = high_doses({"puree": 500.5}, OAT, SHELF, overridden)
    assert (high.most_g_per_kg, high.is_maximum) == (500.0, False)
