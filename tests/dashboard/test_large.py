"""The views on a large log: what is drawn does not grow with it."""

import numpy as np
import pytest
from simulated import make_palate
from streamlit.testing.v1 import AppTest

from pairing.bench import Bench

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """A bench with 20,000 simulated trials, learned once."""
    palate = make_palate(seed=1, n_bases=4, n_flavourings=24)
    bench = Bench.create(tmp_path_factory.mktemp("large") / "bench")
    readings = palate.log(20_000, np.random.default_rng(2))
    bench.load(bases=palate.bases_df, flavourings=palate.flavourings_df, readings=readings)
    bench.learn(random_state=0)
    return bench.place


def test_the_views_of_the_evening_draw_no_more_on_a_large_log(large, monkeypatch):
    from browsing import APP

    monkeypatch.setenv("PAIRING_BENCH", str(large))
    for view in ("next_cups", "bench", "pairings", "log", "doses"):
        at = AppTest.from_file(str(APP), default_timeout=120)
        at.switch_page(f"views/{view}.py").run()
        assert not at.exception
        assert len(list(at.main)) < 400
        if view == "log":
            assert len([b for b in at.button if (b.key or "").startswith("line-")]) == 20
