"""Guesses of plugins beside the model, on cups that were held out."""

import numpy as np
import pytest
from simulated import make_palate
from small_logs import learn

from pairing.api import Baseline
from pairing.learned.evaluate import evaluate

PALATE = make_palate(61, 4, 10, 3)


def baseline(guess):
    return Baseline(id="lab:mine", summary="mine", source="invented", guess=guess)


@pytest.fixture(scope="module")
def model():
    log = PALATE.log(80, np.random.default_rng(61))
    return learn(log, bases=PALATE.bases_df, flavourings=PALATE.flavourings_df)


def test_a_guess_stands_beside_the_tools_own_and_never_sees_the_answer(model):
    seen = []

    def guess(known, asked):
        seen.append(np.isnan(asked.liking).all() and np.isfinite(known.liking).all())
        assert known.taster.max() < known.n_tasters
        return np.full(len(asked.table), known.liking.mean())

    found = evaluate(model, ["later cups"], baselines=[baseline(guess)])
    assert all(seen)
    assert found.faults == ()
    np.testing.assert_allclose(found.table["lab:mine"], found.table["average"])


@pytest.mark.parametrize("guess", [lambda k, a: 1 / 0, lambda k, a: np.zeros(1), lambda k, a: ["much"] * len(a.table)])
def test_a_guess_that_fails_is_named_and_the_others_stand(model, guess):
    found = evaluate(model, ["later cups"], baselines=[baseline(guess)])
    (fault,) = found.faults
    assert fault.line.startswith("plugin lab: pairing_baselines: lab:mine")
    assert found.table["lab:mine"].isna().all()
    assert found.table["average"].notna().all()
