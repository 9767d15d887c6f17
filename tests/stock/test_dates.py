"""Days of lots: what is near is used first, what is past its use-by is stopped at every door."""

from datetime import UTC, datetime

import pandas as pd
import pytest

import pairing
from pairing import Bench, Brief, Recipe
from pairing.errors import BriefError
from pairing.stock.dates import past_dates, to_be_used
from pairing.stock.lots import Lot
from pairing.stock.reckon import Held

NOW = datetime(2026, 3, 10, 18, tzinfo=UTC)


def held(item="oat", lot="A", in_use=True, held_g=None, **days):
    return Held(lot=Lot(item_id=item, lot=lot, **days), size_g=None, held_g=held_g, drawn_g=0.0, weighed_at=None,
                in_use=in_use)  # fmt: skip


@pytest.mark.parametrize(
    ("days", "which"),
    [
        ({"use_by": "2026-03-10"}, None),
        ({"use_by": "2026-03-09"}, "use_by"),
        ({"use_by": "2026-03-09", "best_before": "2026-03-01"}, "use_by"),
        ({"best_before": "2026-03-09"}, "best_before"),
        ({"made_at": "2026-03-08"}, None),
        ({"made_at": "2026-03-05"}, "made_at"),
        ({"made_at": "2026-03-05", "use_by": "2026-03-12"}, None),
        ({"use_by": "2026-03-09", "emptied_at": "2026-03-09"}, None),
        ({}, None),
    ],
)
def test_which_day_is_past(days, which):
    found = past_dates([held(**days)], NOW)
    assert found.get("oat", (None,))[0] == which


def test_the_lot_in_use_counts_and_any_where_none_is():
    old, new = {"use_by": "2026-03-09"}, {"use_by": "2026-03-20"}
    assert past_dates([held(lot="A", in_use=False, **old), held(lot="B", **new)], NOW) == {}
    assert past_dates([held(lot="A", in_use=False, **old), held(lot="B", in_use=False, **new)], NOW) == {}
    assert "oat" in past_dates([held(lot="A", **old), held(lot="B", in_use=False, **new)], NOW)


def test_what_is_near_its_day_is_to_be_used_first():
    lots = [held("oat", use_by="2026-03-20"), held("plum", best_before="2026-03-12"), held("pear", use_by="2026-03-09")]
    lots += [held("mint", best_before="2026-09-01"), held("clove", best_before="2026-03-11", held_g=0.0)]
    assert to_be_used(lots, NOW) == ("plum", "oat")


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "kitchen")
    bases = pd.DataFrame({"base_id": ["oat", "rice"], "name": ["Oat", "Rice"], "allergens": "none", "serving_g": 200})
    drops = pd.DataFrame({"flavouring_id": ["plum"], "name": ["Plum"], "label_dose": "2 g/kg", "food_use": "yes"})
    bench.load(bases=bases, flavourings=drops)
    return bench


def test_past_its_use_by_it_is_stopped_and_never_suggested(bench):
    bench.buy("oat", "1 l", made_at="2026-01-01", use_by="2026-01-03")
    found = pairing.cautions(Recipe("oat", {"plum": 2.0}), bench.shelf())
    assert found[0].severity == "stop"
    assert "oat was to be used by 2026-01-03" in found[0].text
    assert {one.recipe.base_id for one in bench.learn().suggest()} == {"rice"}
    with pytest.raises(BriefError, match="the use-by of what is in use"):
        bench.learn().suggest(Brief(bases=("oat",)))


def test_past_best_before_is_noted_and_goes_on(bench):
    bench.buy("oat", "1 l", bought_at="2026-01-01", best_before="2026-01-03")
    found = pairing.cautions(Recipe("oat", {"plum": 2.0}), bench.shelf())
    assert [c.severity for c in found if "best before" in c.text] == ["note"]
    assert "oat" in {one.recipe.base_id for one in bench.learn().suggest()}


def test_a_base_of_which_there_is_less_than_a_serving_is_not_suggested(bench):
    bench.buy("oat", "150 g")
    assert {one.recipe.base_id for one in bench.learn().suggest()} == {"rice"}
    assert bench.learn().suggest(Brief(bases=("oat",), serving_g=140))
    with pytest.raises(BriefError, match="serving_g 150 is small enough"):
        bench.learn().suggest(Brief(bases=("oat",)))
