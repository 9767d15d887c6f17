"""Pre-dilutions: facts of flavouring and diluent mixed by mass, unknown where a part is; weighed, not dropped."""

from dataclasses import replace

import pandas as pd
import pytest
from plan_kitchen import BASES, FLAVOURINGS, kitchen_log

from pairing import Bench, Brief
from pairing.errors import BriefError
from pairing.learned import learn_shelf
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.portions import Portions
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.content import content
from pairing.nutrition.energy import energy_per_g
from pairing.nutrition.serving import serving
from pairing.plan.dilution import predilute
from pairing.quantities.drops import drop_mass
from pairing.safety.avoidance import forbidden
from pairing.stock.held import cups_left

CLOVE = Flavouring(
    flavouring_id="clove",
    name="Clove",
    form="drops",
    carrier="ethanol:0.6",
    energy_kcal_per_g=5,
    cost_per_g=1,
    sweeteners="none",
    allergens="none",
    food_use="yes",
)
CIDER = Base(base_id="cider", name="Cider", energy_kcal_per_100g=50, ethanol_g_per_100g=4, allergens="sulphites")
WHEY = Base(base_id="whey", name="Whey powder", energy_kcal_per_100g=400, cost_per_kg=20, allergens="milk")
SHAKE = Base(base_id="shake", name="Shake", made_from="whey:30;water:270", allergens="none", sweeteners="none")
SYRUP = Flavouring(
    flavouring_id="syr",
    name="Syrup",
    carrier="propylene glycol:0.5",
    sweeteners="none",
    allergens="none",
    food_use="yes",
)
SOFT = Base(base_id="soft", name="Soft drink", made_from="syr:10;water:90", sweeteners="none")
SHELF = Shelf.of([CIDER, WHEY, SHAKE, SOFT], [CLOVE, SYRUP])


def grams_of_ethanol(thin, base):
    return serving(Recipe("w", {thin.flavouring_id: 500.0}), Shelf.of([WATER, base], [thin]), 100).ethanol_g


WATER = Base(base_id="w", name="Water", ethanol_g_per_100g=0)


def test_ethanol_of_carrier_and_diluent_are_mixed():
    thin = predilute(CLOVE, CIDER, 10, SHELF)
    assert thin.ethanol_g_per_g == pytest.approx(0.1 * 0.6 + 0.9 * 0.04)
    assert grams_of_ethanol(thin, CIDER) == pytest.approx(9.6)
    assert predilute(CLOVE, None, 10, SHELF).ethanol_g_per_g == pytest.approx(0.06)


def test_an_unknown_ethanol_stays_unknown():
    silent = Base(base_id="silent", name="Silent")
    thin = predilute(CLOVE, silent, 10, SHELF)
    assert grams_of_ethanol(thin, silent) is None
    person = Taster(taster="ana", avoid="ethanol")
    assert forbidden([thin.flavouring_id], Shelf.of([], [thin]), person)[0].why == "contains ethanol"


def test_a_rounded_zero_counts_as_what_the_composition_comes_to():
    neat = Flavouring(
        flavouring_id="neat",
        name="Neat",
        label_dose_g_per_kg=0.02,
        energy_kcal_per_g=0,
        carrier="propylene glycol:0.82",
        fat_g_per_g=0,
        protein_g_per_g=0,
        carbohydrate_g_per_g=0,
        food_use="yes",
    )
    oat = Base(base_id="oat", name="Oat", energy_kcal_per_100g=45)
    thin = predilute(neat, oat, 10, SHELF)
    assert energy_per_g(thin).value == pytest.approx(0.1 * 0.82 * 4 + 0.9 * 0.45)
    assert "energy 0.405 to 0.733 kcal/g" in thin.source


def test_a_diluent_made_from_parts_is_composed():
    thin = predilute(CLOVE, SHAKE, 10, SHELF)
    assert thin.allergens == {"milk"}
    assert thin.energy_kcal_per_g == pytest.approx(0.1 * 5 + 0.9 * 0.4)
    assert thin.cost_per_g == pytest.approx(0.1 + 0.9 * 0.002)


def test_carriers_in_the_diluent_are_carried_along():
    thin = predilute(CLOVE, SOFT, 10, SHELF)
    assert thin.carrier["propylene glycol"] == pytest.approx(0.9 * 0.05)
    assert thin.carrier["water"] == pytest.approx(0.9 * 0.95), "only what the diluent is not made of otherwise"
    assert content({thin.flavouring_id: 10.0}, Shelf.of([], [thin])).mg["propylene glycol"] == pytest.approx(450)


def test_an_unknown_carrier_stays_unknown():
    silent = Flavouring(flavouring_id="silent", name="Silent", sweeteners="none", food_use="yes")
    thin = predilute(silent, CIDER, 10, SHELF)
    person = Taster(taster="ana", avoid="propylene glycol")
    assert thin.carrier is None
    assert "may contain propylene glycol" in forbidden([thin.flavouring_id], Shelf.of([], [thin]), person)[0].why


@pytest.mark.parametrize("diluent", [None, CIDER])
@pytest.mark.parametrize("carrier", ["ethanol:0.6", "ethanol", "propylene glycol:0.8;water:0.2"])
def test_a_kept_dilution_is_weighed_and_its_drops_weigh_like_water(tmp_path, diluent, carrier):
    neat = Flavouring(
        flavouring_id="clove", name="Clove", form="drops", carrier=carrier, label_dose_g_per_kg=1, food_use="yes"
    )
    bench = Bench.create(tmp_path / "bench")
    report = bench.keep(CIDER, neat, predilute(neat, diluent, 100, SHELF))
    assert not [note for note in report.notes if "form" in note or "carrier" in note]
    thin = next(f for f in bench.shelf().flavourings.values() if f.version_of)
    assert drop_mass(thin).mg == drop_mass(Flavouring(flavouring_id="x", name="X", carrier="water", food_use="yes")).mg
    assert not drop_mass(thin).comes_in_drops
    assert Portions.of(thin, 0.1).drop_g is None
    calibrated = Flavouring(flavouring_id="thin", name="Thin", form="dilution", drop_mg=48, food_use="yes")
    assert Portions.of(calibrated, 0.1).drop_g == 0.048


@pytest.mark.parametrize(("own_g", "made"), [(None, False), (50.0, True)])
def test_a_pre_dilution_takes_its_flavourings_stock(own_g, made):
    neat = replace(next(f for f in FLAVOURINGS if f.flavouring_id == "clove"), stock_g=0.1)
    thin = replace(predilute(neat, BASES[0], 10, SHELF), stock_g=own_g)
    others = [f for f in FLAVOURINGS if f.flavouring_id != "clove"]
    model = learn_shelf(Shelf.of(BASES, [*others, neat, thin]), pd.DataFrame(kitchen_log()))
    brief = Brief(must_have=(thin.flavouring_id,), bases=("oat",))
    if made:
        assert model.suggest(brief, 3)
    else:
        with pytest.raises(BriefError, match="what is in stock"):
            model.suggest(brief, 3)
        assert cups_left(model.shelf, {thin.flavouring_id: 0.4}) == (2, thin.flavouring_id)
