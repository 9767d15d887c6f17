"""A large crossed design: marks that students gave lecturers.

*open data*: InstEval (see tests/lecture_marks.py). Root mean squared error in marks on the same 80/20 split: guessing
the average 1.3414, lecturer + department + student 1.2157, a Bayesian factorisation machine of rank 8 1.2131 with 300
draws and 1.2120 with 500 (tests/benchmarks/learn_insteval.py).
"""

import numpy as np
import pytest
from lecture_marks import guesses, marks, split, tables

import pairing

pytestmark = pytest.mark.slow


def test_lecturers_departments_and_students():
    data = marks()
    train, test = split(data)
    given = test["y"].to_numpy(float)
    assert np.sqrt(np.mean((given - train["y"].mean()) ** 2)) == pytest.approx(1.3414, abs=1e-3)
    found = guesses(pairing.learn(*tables(train, data), random_state=0), test)
    assert np.sqrt(np.mean((found - given) ** 2)) < 1.2126
