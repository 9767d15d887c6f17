"""Rules on off-notes that come along: what covers one, and what stays after the swallow."""

import pytest

from pairing.api import Base, Flavouring, Recipe
from pairing.host.tables import recipe_table
from pairing.model.shelf import Shelf
from pairing.testing import RuleContract
from pairing_plugins import lingering, masking


class TestLingering(RuleContract):
    plugin = lingering
    quiet = tuple(  # the sample has drops with stevia alone
        rule.id for rule in lingering.pairing_rules() if "stevia" not in rule.id
    )
    answers = (
        ("sweet-stevia", Recipe("spring-water", {"leaf-sweetener": 0.5}), 0.29, 0.31),  # 60 mg/g of it in a g
        ("sweet-stevia", Recipe("spring-water", {"leaf-sweetener": 5}), 1.0, 1.0),
        ("sweet-stevia", Recipe("spring-water", {"honeyed-syrup": 5}), 0.0, 0.0),
    )

    def test_a_carrier_counts_by_its_amount(self):
        drops = Flavouring(flavouring_id="d", name="Drops", carrier="propylene glycol:0.8;water:0.2")
        shelf = Shelf.of([Base(base_id="water", name="Water")], [drops])
        table = recipe_table(shelf, ["water"], [("d",)], [(1.0,)])
        assert lingering.carrier("propylene glycol", 2.0, table) == pytest.approx(0.4)


class TestMasking(RuleContract):
    plugin = masking
    quiet = ("floral-beany", "acid-chalky", "acid-drying")  # nobody states the acids of the sample bases
    answers = (
        ("toast-beany", Recipe("spring-water", {"toasted-kernel": 1}), 1.0, 1.0),
        ("toast-beany", Recipe("spring-water", {"peel-oil": 1}), 0.0, 0.0),
        ("round-bitter", Recipe("rich-milk", {"pod-extract": 1}), 1.0, 1.0),
        ("fruit-bitter", Recipe("rich-milk", {"sharp-gooseberry": 1}), 1.0, 1.0),
        ("fruit-bitter", Recipe("thick-oat", {"sharp-gooseberry": 1}), 0.0, 0.0),
        ("thick-chalky", Recipe("thick-oat"), 1.0, 1.0),
        ("thick-chalky", Recipe("spring-water"), 0.0, 0.1),
    )
