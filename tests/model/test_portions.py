"""Amounts as a hand measures them out."""

import pytest

from pairing.model.flavouring import Flavouring
from pairing.model.portions import Portions

DROPS = Flavouring(flavouring_id="fig", name="Fig drops", form="drops", drop_mg=24.5)
POWDER = Flavouring(flavouring_id="cocoa", name="Cocoa", form="powder")


@pytest.mark.parametrize(
    ("flavouring", "grams", "said"),
    [
        (POWDER, 2.53, "2.5 g"),
        (POWDER, 0.03, "0.03 g, less than the scale shows: dilute it first"),
        (DROPS, 0.392, "16 drops (0.39 g)"),
        (DROPS, 0.03, "1 drop (0.02 g)"),
        (DROPS, 0.00784, "0.0078 g, less than a drop: dilute it first"),
    ],
)
def test_the_grams_beside_drops_are_what_so_many_weigh(flavouring, grams, said):
    assert str(Portions.of(flavouring, 0.1).nearest(grams)) == said
