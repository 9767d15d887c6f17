"""Columns in use, and those that only a prior speaks of."""

from dataclasses import replace

import numpy as np
import pytest

from pairing.learning import columns as col
from pairing.learning.block import Block, Entries
from pairing.learning.columns import Columns, Counts
from pairing.learning.posterior import Posterior

BLOCKS = (
    Block("average", "average", 1.0, mean=5.0, fixed=True),
    Block("item", "item", 0.5),
    Block("flat", "flat", np.inf),
)
VARIANCES = {"average": 1.0, "item": 0.25, "flat": np.inf}


@pytest.fixture
def columns():
    entries = {"average": Entries.of([0, 1], 0), "item": Entries.of([0, 1], [7, 3], 1.0, [1.0, 0.4])}
    return Columns.of(BLOCKS, entries)


@pytest.fixture
def posterior():
    root = np.array([[0.3, 0.0, 0.0], [0.1, 0.4, 0.0], [0.2, 0.1, 0.2]])
    return Posterior(np.array([5.0, 1.0, -1.0]), cov=root @ root.T)


def rows(columns, keys):
    n = len(keys)
    return columns.encode({"average": Entries.of(range(n), 0), "item": Entries.of(range(n), keys)}, n, VARIANCES)


def test_every_key_in_use_has_a_column(columns):
    assert columns.n == 3
    assert columns.keys["item"].tolist() == [3, 7]
    assert rows(columns, [3, 7]).x.toarray().tolist() == [[1, 1, 0], [1, 0, 1]]


def test_the_prior_names_block_mean_and_scale(columns):
    prior = columns.prior()
    assert prior["blocks"].tolist() == [-1, 0, 0]
    assert prior["prior_mean"].tolist() == [5, 0, 0]
    assert prior["prior_scale"].tolist() == [1, 0.4, 1]
    assert prior["pseudo_var"] == [0.5]


def test_an_unused_key_has_its_prior_alone(columns, posterior):
    known, unknown = col.variance(posterior, rows(columns, [3, 99]))
    assert known == pytest.approx(float(posterior.cov[:2, :2].sum()))
    assert unknown == pytest.approx(float(posterior.cov[0, 0]) + 0.25)
    assert col.mean(posterior, rows(columns, [3, 99])).tolist() == [6, 5]


def test_the_same_unused_key_is_the_same_unknown(columns, posterior):
    cov = col.covariance(posterior, rows(columns, [99, 98]), rows(columns, [99]))
    shared = float(posterior.cov[0, 0])
    assert cov.ravel() == pytest.approx([shared + 0.25, shared])


def test_covariance_with_itself_is_variance_and_draws_agree(columns, posterior):
    asked = rows(columns, [3, 7, 99, 98])
    cov = col.covariance(posterior, asked, asked)
    np.testing.assert_allclose(np.diag(cov), col.variance(posterior, asked))
    drawn = col.sample(posterior, asked, 40_000, np.random.default_rng(0))
    np.testing.assert_allclose(drawn.mean(axis=0), col.mean(posterior, asked), atol=0.02)
    np.testing.assert_allclose(np.cov(drawn.T), cov, atol=0.02)


def test_sums_of_rows(columns, posterior):
    asked = rows(columns, [99, 99])
    assert col.variance(posterior, asked.combine([[1.0, -1.0]]))[0] == pytest.approx(0.0, abs=1e-12)
    assert col.mean(posterior, asked.combine([[0.5, 0.5]]))[0] == pytest.approx(5.0)


def test_earlier_weights_are_carried_by_key_not_by_place(columns, posterior):
    class Earlier:
        pass

    earlier = Earlier()
    earlier.columns, earlier.posterior = columns, posterior
    later = Columns.of(BLOCKS, {"average": Entries.of([0], 0), "item": Entries.of([0, 1, 2], [1, 3, 7])})
    assert later.carried(earlier).tolist() == [5, 0, 1, -1]


def test_low_rank_means_reach_used_and_unused_keys():
    entries = {"item": Entries.of([0], 3)}
    columns = replace(Columns.of(BLOCKS, entries), means={"item": lambda keys: keys / 10.0})
    assert columns.prior()["prior_mean"].tolist() == [0.3]
    asked = columns.encode({"item": Entries.of([0], 9)}, 1, VARIANCES)
    assert col.mean(Posterior(np.zeros(1), cov=np.eye(1)), asked)[0] == pytest.approx(0.9)


def test_of_a_large_block_seen_once_what_was_seen_often_keeps_its_columns():
    often, twice = np.repeat([7, 9], 40), np.repeat([11], 2)
    key = np.concatenate([np.arange(100, 6100), often, twice])
    thin = (replace(BLOCKS[1], cells=True),)
    columns = Columns.of(thin, {"item": Entries.of(np.arange(len(key)), key)})
    assert columns.keys["item"].tolist() == [7, 9]
    assert len(Columns.of(BLOCKS, {"item": Entries.of(np.arange(len(key)), key)}).keys["item"]) == 6003
    assert not Columns.of(thin, {"item": Entries.of(np.arange(6000), np.arange(6000))}).keys


@pytest.mark.parametrize("far", [0, 10 * col.MAX_TABLE])
def test_keys_are_found_among_the_known_ones_where_there_are_any(far):
    known, key, none = np.array([2, 5, 7 + far]), np.array([7 + far, 3, 2]), np.empty(0, np.int64)
    assert col.places(known, key).tolist() == [2, -1, 0]
    assert col.places(none, key).tolist() == [-1, -1, -1]
    assert col.places(known, none).tolist() == []


def test_of_very_many_cells_those_seen_most_keep_their_columns(monkeypatch):
    monkeypatch.setattr(col, "MOST_CELLS", 5)
    key = np.repeat(np.arange(10), [3, 1, 4, 1, 5, 9, 2, 6, 5, 3])
    cells = (replace(BLOCKS[1], cells=True),)
    assert Columns.of(cells, {"item": Entries.of(np.arange(len(key)), key)}).keys["item"].tolist() == [2, 4, 5, 7, 8]


def test_counts_of_two_logs_are_those_of_both():
    rng = np.random.default_rng(0)
    key = rng.integers(0, 50, 400)
    whole = Counts.of(Entries.of(np.arange(400), key))
    halves = Counts.of(Entries.of(np.arange(150), key[:150])) + Counts.of(Entries.of(np.arange(250), key[150:]))
    for name in ("key", "count", "scale"):
        assert np.array_equal(getattr(whole, name), getattr(halves, name))
