import numpy as np
import pytest
from scipy.stats import norm

from pairing.plan.worth import Joint, expected_best, expected_improvement


def random_joint(rng, n=12, noise=0.8):
    factor = rng.standard_normal((n, 4))
    return Joint(rng.normal(5, 0.7, n), factor @ factor.T * 0.3 + 0.1 * np.eye(n), np.full(n, noise))


def test_worth_agrees_with_simulation():
    """The expected maximum of posterior means, by drawing scores and updating by hand."""
    rng = np.random.default_rng(3)
    joint = random_joint(rng)
    reference = np.arange(8)
    worth = joint.worth(np.arange(12), reference)
    for x in (0, 5, 11):
        surprise = rng.standard_normal(200_000) * np.sqrt(joint.cov[x, x] + joint.noise_var[x])
        gain = joint.cov[:, x] / (joint.cov[x, x] + joint.noise_var[x])
        mean = joint.mean[None, :] + surprise[:, None] * gain[None, :]
        seen = np.union1d(reference, [x])
        assert worth[x] == pytest.approx(mean[:, seen].max(axis=1).mean() - joint.mean[reference].max(), abs=0.006)


def test_one_uncertain_candidate_is_expected_improvement():
    """*Published*: without noise and correlation it is expected improvement (Jones, Schonlau & Welch 1998, eq. 15)."""
    mean, sd, best = 5.2, 0.9, 5.6
    joint = Joint(np.array([mean, best]), np.diag([sd**2, 1e-12]), np.zeros(2))
    z = (mean - best) / sd
    by_hand = (mean - best) * norm.cdf(z) + sd * norm.pdf(z)
    assert joint.worth(np.array([0]), np.array([1]))[0] == pytest.approx(by_hand, abs=5e-4)
    assert expected_improvement(np.array([mean]), np.array([sd]), best)[0] == pytest.approx(by_hand)


def test_what_is_uncertain_in_common_is_worth_nothing():
    """An unknown that every recipe shares moves all means alike: marginal sd would overrate it."""
    joint = Joint(np.array([5.0, 5.0, 5.0]), np.ones((3, 3)), np.full(3, 0.5))
    assert joint.worth(np.arange(3), np.arange(3)) == pytest.approx(np.zeros(3), abs=1e-9)


def test_confirming_the_best_is_worth_something_when_another_is_close():
    joint = Joint(np.array([6.0, 5.9]), np.diag([0.4, 0.01]), np.full(2, 0.5))
    assert joint.worth(np.array([0]), np.arange(2))[0] > 0.05


def test_a_tasted_cup_is_surer_and_the_covariance_stays_valid():
    rng = np.random.default_rng(4)
    joint = random_joint(rng)
    after = joint.tasted(3)
    assert after.cov[3, 3] < joint.cov[3, 3]
    assert (np.diag(after.cov) <= np.diag(joint.cov) + 1e-12).all()
    assert np.linalg.eigvalsh(after.cov).min() > -1e-9
    by_hand = np.linalg.inv(np.linalg.inv(joint.cov) + np.diag(np.eye(12)[3] / joint.noise_var[3]))
    assert after.cov == pytest.approx(by_hand, abs=1e-8)


def test_expected_best_is_never_below_the_best_mean():
    rng = np.random.default_rng(5)
    mean = rng.normal(0, 1, 30)
    found = expected_best(mean, np.abs(rng.normal(0, 1, 30)), mean, rng.normal(0, 0.5, (30, 30)))
    assert (found >= mean.max() - 1e-4).all()
