"""Best-estimate threshold of ascending three-cup series.

*from memory*: procedure of ASTM E679 (no printed example could be read; the worked example is synthetic).
"""

import numpy as np
import pytest

from pairing.blind.threshold import best_estimate, by_luck, fitted, group_threshold

DOSES = (0.10, 0.30, 0.90, 2.70, 8.10, 24.3)
SERIES = {
    "A": ("0+0+++", 1.5588),
    "B": ("00++++", 0.5196),
    "C": ("++++++", 0.0577),
    "D": ("0000++", 4.6765),
    "E": ("+00+++", 1.5588),
    "F": ("000+++", 1.5588),
    "G": ("0+++++", 0.1732),
    "H": ("000000", 42.0888),
    "I": ("00+0++", 4.6765),
}


def test_individual_and_group():
    answers = {taster: [sign == "+" for sign in row] for taster, (row, _) in SERIES.items()}
    for taster, (_, expected) in SERIES.items():
        assert best_estimate(DOSES, answers[taster]) == pytest.approx(expected, abs=6e-5)
    group = group_threshold(DOSES, answers)
    assert group.g_per_kg == pytest.approx(1.3797, abs=6e-5)
    assert group.log10_sd == pytest.approx(0.8416, abs=6e-5)
    assert sum(np.log10(list(group.individual.values()))) == pytest.approx(1.25811, abs=6e-6)
    assert any(note.startswith("C: right throughout") for note in group.notes)
    assert any(note.startswith("H: missed the highest") for note in group.notes)


def test_luck():
    """Computed: (1/3)^k."""
    assert by_luck(6) == pytest.approx(0.00137, abs=5e-6)
    assert by_luck(2) == pytest.approx(1 / 9)


def test_the_fitted_curve_agrees_with_an_independent_fit():
    """Against a generalised linear fit of the same curve by scipy's general optimiser, no prior, many servings."""
    from scipy.optimize import curve_fit

    rng = np.random.default_rng(5)
    x = np.log(DOSES)
    truth = 1 / 3 + 2 / 3 / (1 + np.exp(-2.0 * (x - np.log(1.4))))
    served = np.full(6, 4000)
    right = rng.binomial(served, truth)
    (middle, slope), _ = curve_fit(
        lambda u, m, b: 1 / 3 + 2 / 3 / (1 + np.exp(-b * (u - m))), x, right / served, p0=(0.3, 1.5)
    )
    found = fitted(DOSES, right.tolist(), served.tolist())
    assert np.log(found.g_per_kg) == pytest.approx(middle, abs=0.03)
    assert found.slope == pytest.approx(slope, rel=0.05)
    assert found.low < 1.4 < found.high
    assert found.within
