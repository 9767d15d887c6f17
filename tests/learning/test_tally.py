"""Counts of what was tried: those of parts add up, and answers rest on them where there is no log."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate

import pairing
from pairing.learning.synergy import Worths
from pairing.learning.tally import Tally

N_FLAVOURINGS = 7


@pytest.fixture(scope="module")
def palate():
    return make_palate(5, 3, N_FLAVOURINGS, 2)


@pytest.fixture(scope="module")
def readings(palate):
    return palate.log(60, np.random.default_rng(0))


@pytest.fixture(scope="module")
def model(palate, readings):
    return pairing.learn(palate.bases_df, palate.flavourings_df, readings, random_state=0)


def in_parts(log):
    """The tally of a log, from two halves of its cups."""
    first = log.cup < len(log.trials) // 3
    return Tally.of(log.take(first), N_FLAVOURINGS) + Tally.of(log.take(~first), N_FLAVOURINGS)


def test_counts_of_two_parts_are_those_of_the_whole(model):
    one, two = model.tally, in_parts(model.log)
    for name in ("cups", "liked", "pairs", "liked_pairs", "judged", "right"):
        whole, added = getattr(one, name), getattr(two, name)
        assert whole.key.tolist() == added.key.tolist()
        assert whole.count.tolist() == added.count.tolist()
    assert one.top.tolist() == two.top.tolist()


def test_cups_are_counted_once_however_often_they_were_sipped(model, palate, readings):
    drunk = readings.dropna(subset="flavouring_id")
    singles = model.singles().set_index("flavouring_id")
    assert singles["trials"].to_dict() == drunk.groupby("flavouring_id")["trial_id"].nunique().to_dict()
    liked = drunk[drunk["liking"].notna()].groupby("flavouring_id")["trial_id"].nunique()
    assert singles["liked"].to_dict() == liked.to_dict()
    both = drunk.merge(drunk, on=["trial_id", "base_id"], suffixes=("_a", "_b"))
    both = both[both["flavouring_id_a"] < both["flavouring_id_b"]]
    counted = both.groupby(["flavouring_id_a", "flavouring_id_b"])["trial_id"].nunique()
    told = model.synergy().set_index(["flavouring_a", "flavouring_b"])
    assert told.loc[told["tested"], "trials"].to_dict() == counted.to_dict()
    needed = model.needed_dose().set_index(["base_id", "flavouring_id"])["readings"]
    assert needed[needed > 0].to_dict() == drunk.groupby(["base_id", "flavouring_id"])["strength"].count().to_dict()


def test_what_was_learned_answers_from_the_counts_alone(model):
    alone = Worths(model.shelf, model.liking, in_parts(model.log))
    pd.testing.assert_frame_equal(alone.pairs(), model.synergy())
    pd.testing.assert_frame_equal(alone.pairs("base-01"), model.synergy("base-01"))
    pd.testing.assert_frame_equal(alone.singles("base-02"), model.singles("base-02"))
    pd.testing.assert_frame_equal(alone.affinity(), model.affinity())


def test_an_empty_part_adds_nothing(model):
    none = Tally.of(model.log.take(np.zeros(0, np.int64)), N_FLAVOURINGS)
    assert replace(none, top=model.tally.top).cups.at(np.arange(5)).tolist() == [0] * 5
    assert (none + model.tally).cups.count.tolist() == model.tally.cups.count.tolist()
