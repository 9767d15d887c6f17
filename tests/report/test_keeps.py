"""A card says how long its batch was found to hold its strength, or that nobody knows."""

import pandas as pd
import pytest

from pairing import Recipe
from pairing.report.keeps import keeps

TIME = pd.DataFrame(
    {"kind": ["flavouring"] * 3, "item_id": ["plum", "clove", "mint"], "holds_days": [2.0, 0.5, float("nan")]}
)


def test_the_first_to_change_counts():
    found = keeps(Recipe("oat", {"plum": 2.0, "clove": 1.0}), TIME)
    assert (found.hours, found.flavouring_id) == (pytest.approx(12.0), "clove")
    assert "for 12 h at least (80 %); Clove drops changes first" in found.sentence({"clove": "Clove drops"})


def test_what_nobody_tasted_later_is_unknown():
    found = keeps(Recipe("oat", {"plum": 2.0, "mint": 1.0}), TIME)
    assert found.hours is None
    assert "nobody tasted mint an hour or more after mixing" in found.sentence({})
