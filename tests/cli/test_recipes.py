"""Which reason stands beside a suggestion: the one that is about this very cup."""

from types import SimpleNamespace

import pytest

import pairing_demo_data
from pairing import Bench, Brief
from pairing.cli.recipes import _why
from pairing.model.recipe import Recipe

RULE = "the whole cup on oat is pleasantly sweet (cup-sweetness:pleasant): gained 0.9 ± 0.3 points"
BASE = "oat: gained 0.8 ± 0.3 points in 68 cups"
ALONE = "biscuit: gained 0.6 ± 0.4 points in 20 cups"
PLACED = "quince in oat: gained 0.4 ± 0.5 points in 4 cups"
PAIR = "biscuit + quince: is expected to gain 0.2 ± 0.5 points, not tasted so far"
LOST = "biscuit + quince: lost 0.9 ± 0.5 points in 2 cups"
DOSE = "biscuit needs 1.4 × its label here (± 8 %)"


def why(*reasons, most=1):
    recipe = Recipe("oat", {"biscuit": 2.5, "quince": 1.6})
    said = ("new: not tried in oat yet", *reasons)
    return _why(SimpleNamespace(purpose="new", recipe=recipe, reasons=said), most)


@pytest.mark.parametrize(
    ("reasons", "first"),
    [
        ((RULE, ALONE, PLACED, DOSE), PLACED),
        ((RULE, BASE, PAIR, DOSE), PAIR),
        ((RULE, BASE, ALONE, DOSE), ALONE),
        ((RULE, BASE, DOSE), RULE),
        ((LOST, RULE), RULE),
        ((LOST, DOSE), DOSE),
    ],
)
def test_what_is_about_this_cup_comes_before_what_is_about_any(reasons, first):
    assert why(*reasons) == f"new – {first}"


def test_among_equals_the_weightier_stays_first_and_nothing_is_lost():
    assert why(RULE, ALONE, PLACED, PAIR, LOST, DOSE, most=9) == "new – " + "; ".join(
        (PLACED, PAIR, ALONE, RULE, DOSE, LOST)
    )
    assert why() == "new"


def test_the_demo_gives_no_rule_where_it_has_a_reason_of_the_cup(tmp_path):
    bench = Bench.create(tmp_path / "b")
    bench.load(**pairing_demo_data.files())
    found = bench.learn(random_state=0).suggest(Brief(bases=("oat",)), n=3, random_state=0)
    ruled = [one for one in found if any("cup-sweetness:" in reason for reason in one.reasons)]
    assert ruled
    for one in ruled:
        assert "cup-sweetness:" not in _why(one, 1)
