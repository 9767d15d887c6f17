"""What people in the trade reckon with. Common practice (no source)."""

import pytest

from pairing.model import doses
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.serving import serving
from pairing.quantities.calibration import calibrate
from pairing.quantities.directions import parse_direction


@pytest.mark.parametrize(("text", "drops"), [("1 drop per fl oz", 13.5), ("1.5 drops per fl oz", 20.3)])
def test_drops_per_fluid_ounce_in_a_cup_of_400_ml(text, drops):
    """Common practice (no source): one drop per fluid ounce in 400 ml is 13.5 drops, one and a half about 20."""
    bottle = Flavouring(flavouring_id="x", name="X", form="drops", drop_mg=36)
    base = Base(base_id="b", name="B", density_g_per_ml=1.03)
    dose = parse_direction(text, bottle, base).mid
    mass = doses.grams(400 * 1.03, {"x": dose})["x"]
    assert 1000 * mass / bottle.drop_mg == pytest.approx(drops, abs=0.05)


def test_a_fluid_ounce_per_gallon():
    """Common practice (no source): one fluid ounce per gallon is 7.8 ml per litre."""
    dose = parse_direction("1 fl oz per gallon").mid
    assert doses.ml(doses.grams(1000, {"x": dose})["x"]) == pytest.approx(7.8, abs=0.05)


def test_a_powder_of_50_kcal_per_12_g():
    """Common practice (no source): it adds 150 kcal at 36 g."""
    shelf = Shelf.of(
        [Base(base_id="b", name="B", energy_kcal_per_100g=40)],
        [Flavouring(flavouring_id="p", name="P", form="powder", energy_kcal_per_g=50 / 12)],
    )
    found = serving(Recipe("b", {"p": 1000 * 36 / 436}), shelf, serving_g=400)
    assert found.grams["p"] == pytest.approx(36)
    assert found.added_kcal == pytest.approx(150)


def test_a_paste_on_a_cup_of_400_kcal():
    """Common practice (no source): 70 g of a paste at 5.4 kcal/g on a 400 kcal cup makes about 780."""
    shelf = Shelf.of(
        [Base(base_id="b", name="B", energy_kcal_per_100g=100)],
        [Flavouring(flavouring_id="p", name="P", form="paste", energy_kcal_per_g=5.4)],
    )
    found = serving(Recipe("b", {"p": 1000 * 70 / 470}), shelf, serving_g=400)
    assert found.total_kcal == pytest.approx(778)
    assert found.total_kcal == pytest.approx(780, abs=5)


def test_weighed_drops():
    """Common practice (no source): 14 drops in 0.5 g are 36 mg each; 20 in 2.5 g would be 125 mg: queried."""
    usual, odd = calibrate(14, 0.5), calibrate(20, 2.5)
    assert usual.mg == pytest.approx(36, abs=0.5)
    assert not usual.queried
    assert odd.mg == pytest.approx(125)
    assert odd.queried
    assert "8–70 mg" in odd.advice
