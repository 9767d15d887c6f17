"""What leaves a pool is what enough kitchens stand behind; a newcomer who adopts it is better off, and never worse."""

import numpy as np
import pytest
from pools import kitchens, write_pool

import pairing
from pairing import Recipe
from pairing.errors import PoolError
from pairing.learned import packed
from pairing.learned.prior import Prior
from pairing.learning.adopted import POOL


@pytest.fixture(scope="module")
def kitchen():
    return kitchens(0.7, n_bases=4, n_flavourings=10)


@pytest.fixture(scope="module")
def pool(kitchen, tmp_path_factory):
    def change(log, number):
        """One kitchen alone serves a pair, and one serves most cups of a flavouring."""
        return log if number else log[~log["flavouring_id"].eq(kitchen(1).flavouring_ids[-1])]

    to = tmp_path_factory.mktemp("pool")
    write_pool(to, kitchen, 24, trials=40, change=change)
    return pairing.learn_pooled(to)


@pytest.fixture(scope="module")
def prior(pool):
    return pool.prior(licence="for the test")


def errors(kitchen, prior, n, newcomers=4, asked_for=None):
    """RMSE of never-tried liking, of the log needed dose, and the share listened to, after n trials."""
    out = []
    for number in range(newcomers):
        palate, rng = kitchen(9000 + number), np.random.default_rng([7, number])
        log = palate.log(n, rng)
        asked = palate.untried(log, 150, rng)
        model = pairing.learn(palate.bases_df, palate.flavourings_df, log, prior=prior)
        off = model.predict([Recipe(*one) for one in asked])["liking"] - palate.true_likings(asked)
        doses = model.needed_dose()
        truth = [palate.true_log_dose(b, f) for b, f in zip(doses["base_id"], doses["flavouring_id"], strict=True)]
        at = model.liking.columns.start.get(POOL)
        share = np.nan if at is None else model.liking.posterior.mean[at]
        out.append((np.mean(off**2), np.mean((np.log(doses["dose_g_per_kg"]) - truth) ** 2), share))
    return np.sqrt(np.mean(out, axis=0)[:2]).tolist(), np.mean(out, axis=0)[2]


def test_a_newcomer_is_told_more(kitchen, prior):
    (alone, dose_alone), _ = errors(kitchen, None, 10)
    (told, dose_told), share = errors(kitchen, prior, 10)
    assert told < 0.8 * alone
    assert dose_told < 0.85 * dose_alone
    assert 0.6 < share < 1.4


def test_a_pool_that_has_nothing_in_common_is_soon_not_listened_to(prior):
    strangers = kitchens(0.0, seed=77, n_bases=4, n_flavourings=10)
    few, many = (errors(strangers, prior, n)[1] for n in (10, 120))
    assert many < 0.75
    assert many < few


def test_only_what_enough_kitchens_stand_behind_is_named(pool):
    strict, loose = pool.prior(min_kitchens=20), pool.prior(min_kitchens=5)
    for prior in (strict, loose):
        for one in prior.effects.values():
            assert (one.kitchens[: len(one.names)] >= prior.facts["min_kitchens"]).all()
    pairs = ("liking", "pair")
    assert len(strict.effects[pairs].names) < len(loose.effects[pairs].names)
    assert strict.effects[pairs].withheld > loose.effects[pairs].withheld


def test_nobody_dominates_an_effect(kitchen, tmp_path):
    """A kitchen that made half of all cups with one flavouring keeps it to itself."""
    rare = kitchen(1).flavouring_ids[0]

    def change(log, number):
        return log if number == 0 else log[~(log["flavouring_id"].eq(rare) & log["trial_id"].gt("t00008"))]

    write_pool(tmp_path, kitchen, 6, trials=40, change=change)
    prior = pairing.learn_pooled(tmp_path).prior(min_kitchens=2)
    assert (rare,) not in prior.effects["liking", "flavouring"].names
    assert prior.effects["liking", "flavouring"].withheld >= 1


def test_a_pool_that_is_too_small_gives_none(pool):
    with pytest.raises(PoolError, match="the pool has 24 kitchens, a prior needs 30"):
        pool.prior(min_kitchens=30)
    with pytest.raises(PoolError, match="min_kitchens is 1"):
        pool.prior(min_kitchens=1)


def test_it_says_what_it_is(prior):
    about = prior.about
    assert list(about.columns) == ["response", "block", "keys", "kitchens", "withheld"]
    assert about.attrs["kitchens"] == 24
    assert 24 * 40 - 5 < about.attrs["cups"] < 24 * 40  # one kitchen lacks a flavouring
    assert about.attrs["since"].startswith("2024-")
    assert about.attrs["licence"] == "for the test"
    assert len(prior.bases) == 4


def test_it_comes_back_from_its_file(prior, kitchen, tmp_path):
    again = Prior.load(prior.save(tmp_path / "prior.npz"))
    assert again.facts == prior.facts
    palate = kitchen(9000)
    log = palate.log(12, np.random.default_rng(1))
    asked = [Recipe(b, dict.fromkeys(f)) for b, f in palate.combinations(2)]
    one, other = (
        pairing.learn(palate.bases_df, palate.flavourings_df, log, prior=p).predict(asked) for p in (prior, again)
    )
    assert np.array_equal(one, other)


def test_a_spoilt_file_is_refused(prior, tmp_path):
    content = bytearray(prior.to_bytes())
    content[len(content) // 2] ^= 1
    (tmp_path / "spoilt").write_bytes(content)
    with pytest.raises(PoolError, match="no prior, or is spoilt"):
        Prior.load(tmp_path / "spoilt")
    with pytest.raises(PoolError, match="cannot be read"):
        Prior.load(tmp_path / "none")
    arrays, meta = packed.read(prior.to_bytes())
    with pytest.raises(PoolError, match="version 9"):
        Prior.from_bytes(packed.write(arrays, meta | {"format": 9}))
    arrays["liking/pair/mean"] = arrays["liking/pair/mean"] * np.inf
    with pytest.raises(PoolError, match="not finite"):
        Prior.from_bytes(packed.write(arrays, meta))


def test_own_names_are_translated_and_unknown_ones_are_wider(prior, kitchen):
    palate = kitchen(9000)
    log = palate.log(12, np.random.default_rng(1))
    one = palate.flavouring_ids[3]
    renamed = {one: "my own bottle"}
    flavourings = palate.flavourings_df.replace({"flavouring_id": renamed})
    model = pairing.learn(palate.bases_df, flavourings, log.replace({"flavouring_id": renamed}), prior=prior)
    plain = pairing.learn(palate.bases_df, palate.flavourings_df, log, prior=prior)
    base = palate.base_ids[0]
    unknown = model.predict([Recipe(base, {"my own bottle": None})])["liking_sd"][0]
    assert unknown > plain.predict([Recipe(base, {one: None})])["liking_sd"][0]
    from pairing.learning.design import Traits

    adopted = prior.on(model.shelf, Traits.of(model.shelf), {"my own bottle": one})
    assert len(adopted["liking"].known["flavouring"].keys) == 10


def test_an_explanation_tells_what_others_know(prior, kitchen):
    palate = kitchen(9000)
    model = pairing.learn(palate.bases_df, palate.flavourings_df, palate.log(12, np.random.default_rng(1)), prior=prior)
    recipe = Recipe(palate.base_ids[0], dict.fromkeys(palate.flavouring_ids[:2]))
    told = model.explain(recipe)
    assert told["points"].sum() == pytest.approx(model.predict([recipe])["liking"][0])
    pooled = told[told["kind"] == "pool"]
    assert {len(ids) for ids in pooled["flavouring_ids"]} >= {1, 2}
    assert pooled["part"].str.contains("as other kitchens know it").all()
    assert {"flavouring", "pair"} <= set(told["kind"])


def test_synergy_counts_what_others_know(prior, kitchen):
    palate = kitchen(9000)
    log = palate.log(6, np.random.default_rng(1))
    alone, told = (pairing.learn(palate.bases_df, palate.flavourings_df, log, prior=p).synergy() for p in (None, prior))
    truth = [palate.true_synergy(a, b) for a, b in zip(told["flavouring_a"], told["flavouring_b"], strict=True)]
    assert np.corrcoef(told["synergy"], truth)[0, 1] > np.corrcoef(alone["synergy"], truth)[0, 1] + 0.2


def test_evaluation_tells_what_it_is_worth(prior, kitchen):
    from pairing.learned.evaluate import ALONE, evaluate

    palate = kitchen(9000)
    log = palate.log(40, np.random.default_rng(2))
    told = pairing.learn(palate.bases_df, palate.flavourings_df, log, prior=prior)
    found = evaluate(told, ["new combinations"])
    assert found.table.loc[0, "model"] < found.table.loc[0, ALONE]
    assert any("Without what other kitchens know" in line for line in found.sentences)
    alone = evaluate(pairing.learn(palate.bases_df, palate.flavourings_df, log), ["new combinations"])
    assert ALONE not in alone.table
    assert found.table.loc[0, ALONE] == pytest.approx(alone.table.loc[0, "model"])
