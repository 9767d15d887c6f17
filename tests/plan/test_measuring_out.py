"""What the ladder says to add can be measured out: whole drops first, a pre-dilution last."""

import numpy as np
import pytest
from plan_fakes import OAT, Ladder, cup

from pairing import Cup
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.plan.ladder import next_addition
from pairing.plan.scene import scene_of


def test_drops_are_whole_drops_of_the_bottle():
    advice = next_addition(Ladder(), cup(), "pear")
    assert advice.add_drops == round(advice.add_drops) > 0
    assert advice.add_g == pytest.approx(advice.add_drops * 0.025)
    assert next_addition(Ladder(), cup(), "plum").add_drops is None
    assert next_addition(Ladder(), cup(), "pear", scale_g=0.001).add_drops, "a finer scale gains next to nothing"


def test_whole_drops_that_come_into_range_are_never_diluted():
    """One drop of 27 mg takes 60 g to 0.90 g/kg, within 20 % of 1.06: no pre-dilution is worth its trouble."""
    lime = Flavouring(
        flavouring_id="lime", name="Lime leaf", form="drops", drop_mg=27, label_dose_g_per_kg=1, food_use="yes"
    )
    model = Ladder(log_sd=0.08, lime=1.06)
    model.shelf = Shelf.of([OAT], [lime])
    drink = Cup("oat", base_g=60, shelf=model.shelf).add("lime", drops=1).sip(g=2).read(strength={"lime": 2})
    advice = next_addition(model, drink, "lime")
    assert (advice.add_drops, advice.dilute_first) == (1, None)
    assert str(advice.portion) == "1 drop (0.03 g)"


@pytest.mark.parametrize("needed", [0.02, 0.05, 0.2, 0.643, 1.3, 4.0])
@pytest.mark.parametrize("drop_mg", [18, 27, 50])
@pytest.mark.parametrize("base_g", [60, 150, 400])
@pytest.mark.parametrize("said", [None, 2])
def test_a_pre_dilution_is_advised_only_where_it_comes_into_range_and_drops_do_not(needed, drop_mg, base_g, said):
    drops = Flavouring(
        flavouring_id="x", name="X", form="drops", drop_mg=drop_mg, label_dose_g_per_kg=needed, food_use="yes"
    )
    model = Ladder(log_sd=0.1, x=needed)
    model.shelf = Shelf.of([OAT], [drops])
    drink = Cup("oat", base_g=base_g, shelf=model.shelf)
    if said is not None:
        drink = drink.add("x", g=0.6 * needed * base_g / 1000).sip(g=2).read(strength={"x": said})
    advice = next_addition(model, drink, "x", override=True)
    scene = scene_of(model, drink, "x", None, True)
    whole = np.array([scene.dose_with(n * drop_mg / 1000) for n in range(1, 300)])
    if advice.dilute_first is not None:
        assert not scene.in_range(whole).any()
        assert scene.in_range(advice.target_g_per_kg)
    elif advice.add_drops is not None:
        assert advice.add_drops <= 20


def test_an_oil_is_not_diluted_into_a_base_that_cannot_hold_it():
    oil = Flavouring(
        flavouring_id="oil",
        name="Peel oil",
        form="drops",
        drop_mg=20,
        solubility="oil",
        label_dose="1 g/kg",
        food_use="yes",
    )
    model = Ladder(log_sd=0.1, oil=0.05)
    for fat, diluted in ((0.1, False), (None, False), (1.5, True)):
        base = Base(base_id="oat", name="Oat", fat_g_per_100g=fat)
        model.shelf = Shelf.of([base], [oil])
        advice = next_addition(model, Cup("oat", base_g=60, shelf=model.shelf), "oil")
        assert (advice.dilute_first is not None) == diluted
        assert ("more of the base would make up for it" in advice.reason) != diluted


def test_beyond_twenty_drops_it_is_weighed_with_the_millilitres_beside_it():
    model = Ladder(log_sd=0.1, pear=8.0)
    advice = next_addition(model, cup(base_g=400), "pear", override=True)
    assert advice.add_drops is None
    assert advice.add_g == pytest.approx(round(advice.add_g, 1))
    assert str(advice.portion).endswith("ml)")
    fine = next_addition(Ladder(log_sd=0.1), cup(base_g=100), "pear", scale_g=0.001)
    assert fine.dilute_first is None


def test_steps_still_to_come_are_said():
    weak = cup().add("plum", g=1).sip(g=15).read(strength={"plum": 1})
    for drink, steps, said in ((cup(), 2, "2 more steps will"), (weak, 1, "1 more step will")):
        advice = next_addition(Ladder(log_sd=0.8), drink, "plum")
        assert advice.more_steps == steps
        assert f"about {said} take it there" in advice.reason
    assert next_addition(Ladder(log_sd=0.05), cup(), "plum").more_steps == 0


def test_below_the_scale_a_pre_dilution_is_a_flavouring_of_its_own():
    advice = next_addition(Ladder(), cup(), "clove")
    thin = advice.dilute_first
    assert thin.flavouring_id.startswith("clove-1in")
    assert thin.version_of == "clove"
    parts = int(thin.flavouring_id.split("-")[1].removeprefix("1in"))
    assert thin.label_dose_g_per_kg == pytest.approx(0.05 * parts)
    assert advice.add_diluted_g == pytest.approx(advice.add_g * parts)
    assert advice.add_diluted_g >= 0.1 - 1e-9
    assert advice.add_g < 0.1
    assert thin.allergens is None
    assert next_addition(Ladder(), cup(), "clove", scale_g=0.001).dilute_first is None
