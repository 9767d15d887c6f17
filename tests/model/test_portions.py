"""Amounts as a hand measures them out."""

import pytest

from pairing.model.flavouring import Flavouring
from pairing.model.measures import Measures
from pairing.model.portions import Portions
from pairing.model.shelf import Shelf

DROPS = Flavouring(flavouring_id="fig", name="Fig drops", form="drops", drop_mg=24.5)
POWDER = Flavouring(flavouring_id="cocoa", name="Cocoa", form="powder")


@pytest.mark.parametrize(("ml", "said"), [(0.5, "0.50 ml"), (1, "1.0 ml"), (9.9, "9.9 ml"), (10, "10 ml")])
def test_a_volume_is_said_as_a_syringe_gives_it(ml, said):
    assert Measures().volume(ml) == said


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


def test_a_shelf_says_amounts_in_the_measures_of_its_kitchen():
    pear = Flavouring(flavouring_id="pear", name="Pear", drop_mg=25)
    shelf = Shelf.of([], [pear], measures=Measures(first="g"))
    assert [str(shelf.portion("Pear", 0.19, 0.1)), str(Shelf.of([], [pear]).portion("pear", 0.19, 0.1))] == [
        "0.20 g (8 drops)",
        "8 drops (0.20 g)",
    ]
