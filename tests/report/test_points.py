"""A prediction in parts: whatever is put together, the sum stays."""

import pandas as pd
import pytest

from pairing.report.points import large_parts

ROWS = [
    ("average", "average", 5.0, 0.2),
    ("lime", "flavouring", 0.8, 0.3),
    ("oat", "base", 0.02, 0.2),
    ("mint", "flavouring", -0.04, 0.1),
    ("lime + mint", "pair", 0.0, 0.9),
]


def test_small_parts_stand_together_and_what_nobody_knows_by_itself():
    parts = large_parts(pd.DataFrame(ROWS, columns=["part", "kind", "points", "sd"]))
    assert [name for name, *_ in parts] == ["average", "lime", "lime + mint", "2 small parts", "expected liking"]
    assert sum(points for _, points, _ in parts[:-1]) == pytest.approx(parts[-1][1]) == pytest.approx(5.78)
