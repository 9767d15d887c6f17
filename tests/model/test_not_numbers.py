"""What is no number is refused with a remedy, never with the error of a conversion."""

import pytest

from pairing.errors import BriefError, CupError, TableError
from pairing.model.brief import Brief
from pairing.model.cup import Cup
from pairing.model.recipe import Recipe


@pytest.mark.parametrize("name", ["max_added_kcal", "max_total_kcal", "max_added_cost", "serving_g"])
@pytest.mark.parametrize("value", ["abc", [1]])
def test_a_limit_that_is_no_number_is_refused(name, value):
    with pytest.raises(BriefError, match=name) as refused:
        Brief(**{name: value})
    assert refused.value.hint


@pytest.mark.parametrize("doses", [{"plum": "much"}, {"plum": [1]}, ["plum"], {"plum": "x", 3: 1.0}])
def test_doses_that_are_no_numbers_are_refused(doses):
    with pytest.raises(TableError) as refused:
        Recipe("oat", doses)
    assert refused.value.hint


@pytest.mark.parametrize("minutes", ["abc", None])
def test_a_rest_that_is_no_number_is_refused(minutes):
    with pytest.raises(CupError, match="minutes") as refused:
        Cup("oat", base_g=100).rest(minutes)
    assert refused.value.hint
