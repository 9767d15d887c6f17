"""What stands for what when a flavouring and its pre-dilutions are in one cup."""

import pytest

from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.dilutions import held_by

MINT, THIN, THINNER, ROSE = (
    Flavouring(flavouring_id=name, name=name, version_of=of)
    for name, of in (
        ("mint", None),
        ("mint-1in10", "mint"),
        ("mint-1in10-1in10", "mint-1in10"),
        ("rose", None),
    )
)
SHELF = Shelf.of([], [MINT, THIN, THINNER, ROSE])


@pytest.mark.parametrize(
    ("asked", "neat", "thin", "thinner"),
    [("mint", 1, 0.1, 0.01), ("mint-1in10", 10, 1, 0.1), ("rose", None, None, None)],
)
def test_every_thinning_counts_by_what_it_holds(asked, neat, thin, thinner):
    found = held_by(["mint", "mint-1in10", "mint-1in10-1in10"], asked, SHELF)
    expected = {"mint": neat, "mint-1in10": thin, "mint-1in10-1in10": thinner}
    assert found == {name: pytest.approx(g) for name, g in expected.items() if g is not None}


def test_ids_that_go_round_in_a_circle_end():
    odd = Flavouring(flavouring_id="a-1in2-1in2", name="odd", version_of="a-1in2")
    other = Flavouring(flavouring_id="a-1in2", name="other", version_of="a")
    assert held_by(["a-1in2"], "a-1in2-1in2", Shelf.of([], [odd, other])) == {"a-1in2": pytest.approx(2.0)}
