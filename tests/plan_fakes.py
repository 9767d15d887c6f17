"""The strength response that planning tests use: what `simulated` palates say, without noise of their own."""

from __future__ import annotations

import numpy as np

from pairing import Cup
from pairing.learning.strength import StrengthParams
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

RESPONSE = StrengthParams(thresholds=(-1.5, -0.75, -0.22, 0.22, 0.7), scale=0.22, stepped=0.0)
OAT = Base(base_id="oat", name="Oat drink", energy_kcal_per_100g=45, fat_g_per_100g=1.5, allergens="none")
PLUM = Flavouring(
    flavouring_id="plum", name="Plum syrup", form="syrup", label_dose_g_per_kg=20, allergens="none", food_use="yes"
)
CLOVE = Flavouring(flavouring_id="clove", name="Clove oil", form="paste", label_dose_g_per_kg=0.05, food_use="yes")
PEAR = Flavouring(
    flavouring_id="pear", name="Pear drops", form="drops", drop_mg=25, label_dose_g_per_kg=2, food_use="yes"
)
SHELF = Shelf.of([OAT], [PLUM, CLOVE, PEAR])


class Ladder:
    """What a ladder asks of a model."""

    strength_params = RESPONSE
    shelf = SHELF
    tasters = ()
    rules = ()

    def __init__(self, log_sd=0.3, **needed):
        self.needed, self.log_sd = {"plum": 20.0, "clove": 0.05, "pear": 2.0} | needed, log_sd
        self.asked = []

    def dose_posterior(self, base_ids, flavouring_ids, tasters=None):
        self.asked += list(flavouring_ids)
        ids = [f for one in flavouring_ids for f in one]
        return np.log([[self.needed[f] for f in ids]]), np.full((1, len(ids)), self.log_sd)


def cup(trial_id="t1", base_g=250):
    return Cup("oat", base_g=base_g, shelf=SHELF, trial_id=trial_id)
