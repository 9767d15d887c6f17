"""What a brief wants of a cup, as the learned model sees it."""

import numpy as np
import pytest
from plan_kitchen import palate_model
from scipy.stats import chi2

from pairing import Brief
from pairing.plan.candidates import candidates
from pairing.plan.objective import Objective


def test_a_score_tells_less_of_a_cup_whose_dose_may_be_missed():
    """A penalty of two points times z², z ~ N(0, s²) how far a dose is off: its variance is that of a chi-squared."""
    model = palate_model()
    pool = candidates(model, Brief())
    pool = pool.take(np.arange(0, len(pool), 7))
    mean, _ = Objective(model.response).predict(pool)
    joint = Objective(model.response).joint(pool, mean)
    each = (2.0 * pool.log_sd**2) ** 2 * chi2(1).var()
    assert {len(ids) for ids in pool.flavouring_ids} == {1, 2}
    assert joint.noise_var == pytest.approx(model.response.noise_sd**2 + np.nansum(each, axis=1))
    assert np.ptp(joint.noise_var) > 0.1 * model.response.noise_sd**2
