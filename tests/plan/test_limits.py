"""What may go in at all: never and avoid reach every version and dilution."""

from types import SimpleNamespace

import numpy as np
import pytest
from plan_kitchen import kitchen_log

from pairing.errors import BriefError
from pairing.learned import learn_shelf
from pairing.model.base import Base
from pairing.model.brief import Brief
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.plan.limits import item_limits
from pairing.safety.avoidance import forbidden

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat"), Base(base_id="oat-thin", name="Thin oat", version_of="oat")],
    [
        Flavouring(flavouring_id="lime", name="Lime leaf", label_dose_g_per_kg=1, food_use="yes"),
        Flavouring(
            flavouring_id="lime-1in10",
            name="Lime leaf 1 in 10",
            label_dose_g_per_kg=10,
            version_of="lime",
            food_use="yes",
        ),
        Flavouring(
            flavouring_id="lime-1in100",
            name="1 in 100",
            label_dose_g_per_kg=100,
            version_of="lime-1in10",
            food_use="yes",
        ),
        Flavouring(flavouring_id="plum", name="Plum", label_dose_g_per_kg=1, food_use="yes"),
    ],
    [Taster(taster="ana", avoid="lime"), Taster(taster="bo", avoid="oat")],
)
MODEL = SimpleNamespace(shelf=SHELF, log=SimpleNamespace(recipes=SimpleNamespace(base=np.array([0, 1]))))


@pytest.mark.parametrize(
    ("never", "left"),
    [(("lime",), [False, False, False, True]), (("lime-1in10",), [True, False, False, True])],
)
def test_never_holds_for_versions_and_dilutions(never, left):
    assert item_limits(MODEL, Brief(never=never, tasters=()))["never"].flavouring.tolist() == left


def test_what_a_taster_avoids_is_avoided_diluted_too():
    limit = item_limits(MODEL, Brief(tasters=("ana",)))["tasters"]
    assert limit.flavouring.tolist() == [False, False, False, True]
    said = forbidden(Recipe("oat", {"lime-1in100": 1.0}), SHELF, "ana")
    assert list(map(str, said)) == ["lime-1in100 is a version of lime"]
    assert item_limits(MODEL, Brief(tasters=("bo",)))["tasters"].base.tolist() == [False, False]


def test_a_maximum_dose_holds_for_what_is_thinned_from_it():
    neat = Flavouring(
        flavouring_id="clove", name="Clove", label_dose_g_per_kg=0.5, max_dose_g_per_kg=0.06, food_use="yes"
    )
    thin = Flavouring(
        flavouring_id="clove-1in10", name="Thin", version_of="clove", label_dose_g_per_kg=5, food_use="yes"
    )
    model = learn_shelf(Shelf.of([Base(base_id="oat", name="Oat")], [neat, thin]), kitchen_log().iloc[:0])
    doses = [one.recipe.doses for one in model.suggest(Brief(must_have=("clove-1in10",)), 3)]
    assert all(one["clove-1in10"] <= 0.6 + 1e-9 for one in doses)
    assert not model.needed_dose(["oat"], ["clove-1in10"])["reachable"].any()


def test_nothing_left_for_a_child_names_the_label_that_was_not_read():
    plum = Flavouring(flavouring_id="plum", name="Plum", label_dose_g_per_kg=1, food_use="yes")
    shelf = Shelf.of([Base(base_id="oat", name="Oat")], [plum], [Taster(taster="kim", age_years=9)])
    model = learn_shelf(shelf, kitchen_log().head(0))
    with pytest.raises(BriefError) as refused:
        model.suggest(Brief(tasters=("kim",)), n=1)
    assert "what tasters avoid: kim (caffeine)" in refused.value.message
    assert "Oat may contain caffeine: the amount is unknown" in refused.value.hint
