"""What parts answer: the exact elimination of local columns, and the same sums however the rows are parted."""

from functools import partial

import numpy as np
import pytest
from scipy import sparse

from pairing.learning import iterative
from pairing.learning import rows as rows_module
from pairing.learning.exact import Prior
from pairing.learning.iterative import System, fit_variances
from pairing.learning.local import Eliminated, elimination_order
from pairing.learning.parts import HeldParts, Placed, added
from pairing.learning.rows import Level, Rows

SHARED, TASTERS, CUPS_EACH, SIPS = 12, 6, 10, 3
LEVEL = Level((0.5, 0.3, 0.2, 0.1, 0.8))


def kitchens(seed: int = 0):
    """Rows of flavouring and base, with what is a taster's, a session's and a cup's own: two tasters to a kitchen."""
    rng = np.random.default_rng(seed)
    taster = np.repeat(np.arange(TASTERS), CUPS_EACH * SIPS)
    n = len(taster)
    cup = np.repeat(np.arange(n // SIPS) // 2, SIPS)  # one cup is shared by two moments
    kitchen = taster // 2
    one_hot = [(rng.integers(0, 4, n), 4), (rng.integers(0, SHARED - 4, n), SHARED - 4)]
    own = [(taster, TASTERS), (cup // 5, cup.max() // 5 + 1), (cup, cup.max() + 1)]

    def matrix(items):
        return sparse.hstack(
            [sparse.csr_matrix((np.ones(n), (np.arange(n), i)), (n, k)) for i, k in items], format="csr"
        )

    blocks = [np.repeat([first + i for i in range(len(items))], [k for _, k in items])
              for first, items in ((0, one_hot), (2, own))]  # fmt: skip
    return matrix(one_hot), matrix(own), blocks, kitchen, rng.normal(5, 1, n), rng.uniform(0.3, 2.0, n), rng


def prior(block, rng):
    count, var = np.full(6, 2.0), np.full(6, 0.5)
    return Prior(block, np.zeros(len(block)), rng.uniform(0.5, 1.5, len(block)), 5, count, var)


@pytest.fixture
def data():
    x, z, (shared, own), kitchen, y, weight, rng = kitchens()
    return x, z, prior(shared, rng), prior(own, rng), kitchen, y - y.mean(), weight


def parted(data, groups):
    x, z, _, own, kitchen, y, weight = data
    parts = []
    for group in groups:
        rows = np.flatnonzero(np.isin(kitchen, group))
        mine = np.flatnonzero(np.asarray(z[rows].sum(axis=0)).ravel() > 0)
        parts.append(Rows.of(x[rows], y[rows], weight[rows], z[rows][:, mine], own.take(mine), mine, rows))
    return HeldParts(tuple(parts))


ONE, TWO = ([0, 1, 2],), ([0], [1, 2])
LEVEL = Level((0.5, 0.3, 0.2, 0.1, 0.05, 0.8))


def test_elimination_is_one_solution_over_all_columns(data):
    x, z, shared, own, _, y, weight = data
    system = System.of(parted(data, ONE), shared, 3)
    (rows,) = system.parts.parts
    beta = system.mean(LEVEL, None, 1e-12)
    both = sparse.hstack([x, z]).toarray()
    precision = np.append(LEVEL.precision(shared), LEVEL.precision(own))
    whole = np.linalg.solve(both.T @ (weight[:, None] * both) + np.diag(precision), both.T @ (weight * y))
    np.testing.assert_allclose(beta, whole[:SHARED], atol=1e-9)
    np.testing.assert_allclose(rows.effects(LEVEL, beta), whole[SHARED:], atol=1e-9)


def test_sums_for_the_variances_are_those_of_the_inverse(data):
    x, z, shared, own, _, y, weight = data
    system = System.of(parted(data, ONE), shared, 3)
    both = sparse.hstack([x, z]).toarray()
    precision = np.append(LEVEL.precision(shared), LEVEL.precision(own))
    inverse = np.linalg.inv(both.T @ (weight[:, None] * both) + np.diag(precision))
    beta = inverse @ both.T @ (weight * y)
    n_probes = 4000
    rhs = system.parts.sum(Rows.begin, LEVEL, 3, n_probes)["rhs"]
    probes = np.random.default_rng(0).choice([-1.0, 1.0], (SHARED, n_probes))
    rhs[:, 1:] += probes * np.sqrt(LEVEL.precision(shared))[:, None]
    found = system.parts.sum(Rows.finish, LEVEL, system.solve(LEVEL, rhs, None, 1e-10), 3)
    lost = np.diag(inverse) * precision
    by_block = np.bincount(own.block, lost[SHARED:], minlength=5)
    np.testing.assert_allclose(found["lost"], by_block, rtol=0.03)
    np.testing.assert_allclose(found["fit"], np.bincount(own.block, beta[SHARED:] ** 2 / own.scale, minlength=5))
    assert found["size"].tolist() == np.bincount(own.block, minlength=5).tolist()
    assert found["residual"] == pytest.approx(float(weight @ (y - both @ beta) ** 2))
    assert found["moved"] == pytest.approx(float(weight @ (both @ beta) ** 2))


def test_two_parts_give_the_answer_of_one(data):
    shared = data[2]
    answers = []
    for groups in (ONE, TWO):
        system = System.of(parted(data, groups), shared, 3)
        fitted = fit_variances(system, np.log(LEVEL.variances), floor=1e-6, fixed_noise=False)
        answers.append((fitted.level.variances, fitted.beta, system.draws(fitted.level, 5), fitted.n_iter))
    one, two = answers
    assert one[3] == two[3]
    for mine, other in zip(one[:3], two[:3], strict=True):
        np.testing.assert_allclose(mine, other, atol=1e-8)


@pytest.mark.parametrize("at_once", [7, 10**6])
def test_a_part_that_keeps_to_the_columns_it_uses_answers_the_same(data, monkeypatch, at_once):
    """Whatever share of the columns that is, and however many draws are solved for together."""
    x, *_, weight = data
    unused = sparse.csr_matrix((len(weight), 2))
    wide = sparse.hstack([unused, x, unused], format="csr")
    shared = prior(np.zeros(wide.shape[1], np.int64), np.random.default_rng(1))
    answers = []
    for few in (0.0, 1.0):
        monkeypatch.setattr(rows_module, "FEW_COLUMNS", few)
        monkeypatch.setattr(iterative, "AT_ONCE", at_once if few else 10**6)
        system = System.of(parted((wide, *data[1:]), TWO), shared, 3)
        assert all((part.used is not None) == bool(few) for part in system.parts.parts)
        fitted = fit_variances(system, np.log(LEVEL.variances), floor=1e-6, fixed_noise=False)
        noise = system.parts.sum(Rows.noise, LEVEL, 3, 4)["rhs"]
        apart = [system.parts.sum(Rows.noise, LEVEL, 3, 2, first)["rhs"] for first in (0, 2)]
        np.testing.assert_allclose(noise, np.hstack(apart))
        answers.append((fitted.beta, system.covariance(LEVEL), noise, system.draws(LEVEL, 3000).var(axis=1)))
    for mine, other in zip(answers[0][:3], answers[1][:3], strict=True):
        np.testing.assert_allclose(mine, other, atol=1e-9)
    np.testing.assert_allclose(answers[0][3], answers[1][3], rtol=0.15)


def test_draws_of_all_columns_have_the_posterior_spread(data):
    x, z, shared, own, _, _, weight = data
    system = System.of(parted(data, ONE), shared, 3)
    (rows,) = system.parts.parts
    drawn = system.draws(LEVEL, 4000)
    every = np.vstack([drawn, rows.deviations(LEVEL, 3, drawn)])
    both = sparse.hstack([x, z]).toarray()
    precision = np.append(LEVEL.precision(shared), LEVEL.precision(own))
    cov = LEVEL.noise * np.linalg.inv(both.T @ (weight[:, None] * both) + np.diag(precision))
    np.testing.assert_allclose(every.var(axis=1), np.diag(cov), rtol=0.2)
    asked = np.random.default_rng(1).standard_normal((20, len(every)))
    np.testing.assert_allclose((asked @ every).var(axis=1), np.diag(asked @ cov @ asked.T), rtol=0.2)


def test_rows_that_are_alike_are_taken_together(monkeypatch):
    monkeypatch.setattr(rows_module, "PIECE", 2)
    rng = np.random.default_rng(0)
    x, z = sparse.csr_matrix(np.eye(5)), sparse.csr_matrix(np.eye(5)[:, :3])
    again = rng.integers(0, 5, 60)
    y, weight = rng.standard_normal(60), rng.uniform(0.2, 2.0, 60)
    own = prior(np.zeros(3, np.int64), rng)
    rows = Rows.of(x[again], y, weight, z[again], own, np.arange(3))
    assert rows.x.shape[0] == 5
    assert rows.n == pytest.approx(weight.sum())
    apart = partial(Rows, number=np.arange(60), n=weight.sum(), within=0.0)
    root = np.sqrt(weight)
    whole = apart(x[again].multiply(root[:, None]).tocsr(), root * y, rows.local)
    small = np.arange(5)
    for name, value in rows.shape(small).items():
        np.testing.assert_allclose(value, whole.shape(small)[name])
    np.testing.assert_allclose(rows.x.T @ rows.y, whole.x.T @ whole.y)


def test_sums_are_added_by_name():
    first = np.ones(2)
    some = [{"a": n, "b": np.ones(2), "c": Placed(np.array([n % 2]), np.ones(1), 2)} for n in range(1, 5)]
    found = added([{"b": first}, *some])
    assert first.tolist() == [1.0, 1.0]  # whoever answered may keep it
    assert (found["a"], found["b"].tolist(), found["c"].tolist()) == (10, [5.0, 5.0], [2.0, 2.0])
    assert added([]) == {}


def test_what_meets_all_others_is_eliminated_last():
    """A taster met in each of her cups: eliminated first she would join all cups, so that nothing stayed sparse."""
    cups = 50
    z = sparse.csr_matrix(np.column_stack([np.ones(cups), np.eye(cups)]))
    gram, precision = (z.T @ z).tocsc(), np.full(cups + 1, 0.5)
    order = elimination_order(gram)
    found, worst = (Eliminated.of(gram, precision, o) for o in (order, np.arange(cups + 1)))
    assert order[-1] == 0 or order[-2] == 0
    assert found.factors.L.nnz < 3 * cups < worst.factors.L.nnz
    rhs = np.random.default_rng(0).standard_normal((cups + 1, 2))
    inverse = np.linalg.inv(gram.toarray() + np.diag(precision))
    for one in (found, worst):
        np.testing.assert_allclose(one.solve(rhs), inverse @ rhs, atol=1e-12)
    assert elimination_order(sparse.identity(3, format="csc")) is None
