"""Sweetness as it is felt: cold takes of it, and a matching aroma gains by it."""

import numpy as np
import pytest

from pairing.api import Recipe
from pairing.host.tables import recipe_table_of
from pairing.model.recipes import Recipes
from pairing.testing import RuleContract
from pairing.testing.kitchen import sample_shelf
from pairing_plugins import sweet_as_felt


class TestSweetAsFelt(RuleContract):
    plugin = sweet_as_felt
    answers = (
        ("congruent", Recipe("lean-shake", {"pod-extract": 1}), 1.0, 1.0),  # 9 g sugars and vanilla
        ("congruent", Recipe("rich-milk", {"sharp-gooseberry": 1}), 0.62, 0.63),
        ("congruent", Recipe("lean-shake", {"toasted-kernel": 1}), 0.0, 0.0),
        ("congruent", Recipe("spring-water", {"pod-extract": 1}), 0.0, 0.0),
        ("cold", Recipe("rich-milk"), 0.0, 0.0),  # as warm as nobody knows
    )
    quiet = ("cold",)  # contract tables say nothing of temperature

    def test_cold_takes_sweetness_away_and_what_cloys_with_it(self):
        shelf = sample_shelf()
        cups = Recipes.of(shelf, [Recipe("rich-milk"), Recipe("spring-water", {"honeyed-syrup": 300.0})])
        found = [sweet_as_felt.cold(recipe_table_of(shelf, cups.at_temperature(c))) for c in (4.0, 20.0, 60.0)]
        assert found[0] == pytest.approx([-0.2 * 5 / 8, 0.2 * 21 / 12])  # 5 % and 21 % sugar
        assert not np.any(found[1:])
