"""Comparisons and rules in a pool: heard as on one bench, and alike in one part or in many."""

import numpy as np
import pandas as pd
import pytest
from pools import kitchens, write_pool

import pairing
from pairing import Recipe
from pairing.api import Rule
from pairing.errors import PoolError
from pairing.learning.design import Traits
from pairing.learning.log import read_log
from pairing.learning.scene import Typical
from pairing.model.shelf import Shelf
from pairing.pooling import entries
from pairing.pooling import folder as folders
from pairing.pooling.compared import Asked, public_comparisons
from pairing.pooling.survey import Survey, survey

KITCHEN = kitchens(0.7, n_bases=2, n_flavourings=4)
ASKED = [Recipe(b, dict.fromkeys(f)) for b, f in KITCHEN(2000).combinations(2)]


def two_flavourings(table):
    return table.present.sum(axis=1) > 1


def in_company(table):
    return table.companions > 0


def because(recipe):
    return f"so it is with {recipe.base_id}"


def rule(acts_on, feature):
    return Rule(
        id=f"on-{acts_on}", summary="An expectation", source="from memory", acts_on=acts_on,
        feature=feature, because=because, prior_mean=0.5, prior_sd=0.5,
    )  # fmt: skip


RULES = (rule("liking", two_flavourings), rule("dose", in_company))


def compared(to, answer="left"):
    """Let every kitchen compare two cups of its log, and two recipes, by strength and by preference."""
    for folder in to.glob("kitchen=*"):
        trials = pd.read_parquet(folder / "part-0.parquet")["trial_id"].unique()
        sides = [(trials[0], trials[3]), ("base-01|flav-00=2", "base-00|flav-00=2")] * 6
        rows = [(question, *side, answer) for question in ("stronger", "prefer", "odd one out") for side in sides]
        pd.DataFrame(rows, columns=["question", "left", "right", "answer"]).to_parquet(folder / "comparisons.parquet")


def gaps(model):
    """Liking and log needed dose of the first flavouring in the second base less that in the first."""
    liking = model.predict([Recipe(base, {"flav-00": None}) for base in ("base-00", "base-01")])["liking"]
    dose = model.needed_dose().set_index(["base_id", "flavouring_id"])["dose_g_per_kg"]
    return liking[1] - liking[0], np.log(dose["base-01", "flav-00"] / dose["base-00", "flav-00"])


def test_one_part_or_many_give_one_answer(tmp_path, monkeypatch):
    write_pool(tmp_path, KITCHEN, 2, trials=10)
    compared(tmp_path)
    told = pairing.learn_pooled(tmp_path, rules=RULES)
    monkeypatch.setattr(folders, "PART_BYTES", 1)
    many = pairing.learn_pooled(tmp_path, rules=RULES)
    for one, other in (
        (told.predict(ASKED), many.predict(ASKED)),
        (told.needed_dose(), many.needed_dose()),
        (told.rule_weights(), many.rule_weights()),
    ):
        numbers = one.select_dtypes("number")
        assert np.allclose(numbers, other[numbers.columns], rtol=0, atol=1e-8, equal_nan=True)
    assert told.liking.noise_sd == pytest.approx(many.liking.noise_sd, abs=1e-8)


def test_one_kitchen_alone_is_told_what_a_bench_is(tmp_path):
    """The second base was picked as the stronger and the better cup: it needs less there, and is liked more."""
    palate = KITCHEN(2000)
    log = write_pool(tmp_path, KITCHEN, 1, trials=20)[0]
    compared(tmp_path)
    pairs = pd.read_parquet(tmp_path / "kitchen=k000" / "comparisons.parquet").query("question != 'odd one out'")
    pairs = pairs.assign(check_id="c", serving=range(1, len(pairs) + 1))
    pooled = pairing.learn_pooled(tmp_path, rules=RULES)
    alone = pairing.learn(palate.bases_df, palate.flavourings_df, log, comparisons=pairs, rules=RULES)
    silent = pairing.learn(palate.bases_df, palate.flavourings_df, log, rules=RULES)
    (liked, needs), (as_liked, as_needed), (before, needed) = map(gaps, (pooled, alone, silent))
    assert liked > before + 0.3
    assert needs < needed - 0.05
    assert liked - before == pytest.approx(as_liked - before, rel=0.3)
    assert needs - needed == pytest.approx(as_needed - needed, rel=0.3)
    assert pooled.liking.noise_sd == pytest.approx(alone.liking.noise_sd, rel=0.1)
    one, other = (model.rule_weights() for model in (pooled, alone))
    assert not pooled.liking.rules.faults
    assert (one["learned_sd"] < one["prior_sd"]).all()
    assert list(one["learned_mean"]) == pytest.approx(list(other["learned_mean"]), abs=0.1)


def test_a_taster_of_many_readings_has_more_columns(tmp_path, monkeypatch):
    monkeypatch.setattr(entries, "MOST_OWN", (1, 3))
    monkeypatch.setattr(entries, "FOR_ONE_MORE", 10)
    write_pool(tmp_path, KITCHEN, 1, trials=30)
    shelf, ((_, source),) = folders.open_pool(tmp_path)[0], folders.sources_of(tmp_path).items()
    traits = Traits.of(shelf)
    part = folders.read_part(source, shelf, traits)
    plan = Survey(survey(part, traits)).liking(traits, penalty=False).plan
    for readings, columns in ((5, 1), (len(part.log), 3)):
        asked = Asked.of(part, np.flatnonzero(~np.isnan(part.log.liking))[:readings], "prefer")
        made = entries.scored_entries(part, asked, plan.blocks, plan.rules, traits, Typical())
        assert len(entries.Own.of(made, part, plan).keys["taster*flavouring"][1]) == columns


def test_what_cannot_be_understood_is_named(tmp_path):
    write_pool(tmp_path, KITCHEN, 2, trials=5)
    compared(tmp_path)
    compared_of_one = tmp_path / "kitchen=k001" / "comparisons.parquet"
    pd.read_parquet(compared_of_one).assign(answer="leftish").to_parquet(compared_of_one)
    shelf, ((_, source),) = folders.open_pool(tmp_path)[0], folders.sources_of(tmp_path).items()
    left = folders.read_part(source, shelf, Traits.of(shelf))
    assert set(left.kitchen) == {0} == set(left.compared["prefer"].kitchen)
    compared_of_one.with_name("part-0.parquet").replace(other := compared_of_one.with_name("z.parquet"))
    with pytest.raises(PoolError, match=r"(?s)1 file .*k001.comparisons.*leftish"):
        pairing.learn_pooled(tmp_path)
    pd.read_parquet(other).assign(liking=12.0).to_parquet(other)
    with pytest.raises(PoolError, match=r"(?s)1 file .*k001.z.parquet.*liking is 12"):
        pairing.learn_pooled(tmp_path)
    with pytest.raises(PoolError, match="handed to workers"):
        pairing.learn_pooled(tmp_path, rules=(rule("liking", lambda table: np.ones(len(table))),))


def test_doses_of_comparisons_leave_as_those_of_readings():
    """As multiples of the label: a bottle half as strong as the pool's has half its doses there."""
    palate = KITCHEN(3000)
    shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df, None)
    row = ("prefer", "base-00|flav-01=3.0;flav-00", "base-01|", "tie")
    table = pd.DataFrame([row], columns=["question", "left", "right", "answer"])
    ids = {"bases": list(shelf.bases), "flavourings": ["a", "b", "c", "d"]}
    log = read_log(shelf, palate.log(1, np.random.default_rng(0)))
    found = public_comparisons(shelf, log, table, ids, np.full((2, 4), np.log(0.5)))
    assert found.to_numpy().tolist() == [["prefer", "base-00|a;b=1.5", "base-01|", "tie"]]
