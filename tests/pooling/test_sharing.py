"""What a bench gives to a pool is shown first and nothing else; what it takes from one is kept until it is dropped."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pools import kitchens, write_pool

import pairing
from pairing import Bench, Recipe
from pairing.errors import PoolError, StoreError, TableError
from pairing.learning.adopted import POOL
from pairing.store.database import FILE_NAME
from pairing.store.salvage import salvage

SECRETS = ("Ana", "ben", "birthday", "secret", "maker", "t0000", "s000")


@pytest.fixture(scope="module")
def kitchen():
    return kitchens(0.7, n_bases=3, n_flavourings=8)


@pytest.fixture(scope="module")
def prior(kitchen, tmp_path_factory):
    to = tmp_path_factory.mktemp("pool")
    write_pool(to, kitchen, 12, trials=25)
    return pairing.learn_pooled(to).prior()


def bench_of(palate, log, place, rename=None):
    bench = Bench.create(place)
    flavourings = palate.flavourings_df.assign(source="from the maker", food_use="yes")
    tables = {"bases": palate.bases_df, "flavourings": flavourings, "readings": log}
    if rename:
        tables = {name: table.replace(rename) for name, table in tables.items()}
    report = bench.load(**tables)
    assert not len(report.refused)
    return bench.choose_plugins("")


@pytest.fixture
def bench(kitchen, tmp_path):
    palate = kitchen(9000)
    log = palate.log(20, np.random.default_rng(3))
    log = log.assign(note="the birthday of Ana", taster=np.where(log.index % 2, "Ana", "ben"), off_notes="secret:1")
    return bench_of(palate, log.drop(columns="tasted_at").assign(tasted_at="2024-05-17T18:30:00"), tmp_path / "bench")


def own(bench):
    """Every base and flavouring under its own id."""
    shelf = bench.shelf()
    return {i: i for i in (*shelf.bases, *shelf.flavourings)}


def written(folder):
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_nothing_leaves_that_is_not_shown(bench, tmp_path):
    pool = tmp_path / "pool"
    shown = bench.contribute(pool, kitchen="boathouse", public_ids=own(bench), write=False)
    assert not pool.exists()
    assert not bench.public_ids
    given = bench.contribute(pool, kitchen="boathouse", public_ids=own(bench))
    assert bench.public_ids == own(bench)
    pd.testing.assert_frame_equal(shown, given)
    pd.testing.assert_frame_equal(
        pd.read_parquet(pool / "kitchen=boathouse" / "part-0.parquet"), given, check_dtype=False
    )
    assert sorted(path.name for path in pool.iterdir()) == ["bases.parquet", "flavourings.parquet", "kitchen=boathouse"]


def test_names_notes_and_days_stay_at_home(bench, tmp_path):
    pool = tmp_path / "pool"
    given = bench.contribute(pool, kitchen="boathouse", public_ids=own(bench))
    everything = given.to_csv() + "".join(pd.read_parquet(p).to_csv() for p in pool.rglob("*.parquet"))
    for secret in SECRETS:
        assert secret not in everything
        assert secret.encode() not in written(pool)
    assert set(given["tasted_at"]) == {"2024-05-01"}
    assert set(given["taster"]) == {"t1", "t2"}
    assert given["trial_id"].str.fullmatch(r"c\d+").all()


def test_what_was_given_is_learned_like_the_log(bench, tmp_path):
    given = bench.contribute(tmp_path / "pool", kitchen="boathouse", public_ids=own(bench))
    tables = bench.tables()
    one = pairing.learn(tables["bases"], tables["flavourings"], tables["readings"])
    other = pairing.learn(tables["bases"], tables["flavourings"], given)
    doses = [np.log(m.needed_dose()["dose_g_per_kg"]) for m in (one, other)]
    assert np.abs(doses[0] - doses[1]).max() < 0.02


def test_comparisons_leave_as_recipes_of_public_ids(bench, tmp_path):
    """What was found blind goes along, doses as those of the readings; a side that stays at home keeps it there."""
    trial = bench.tables("readings")["trial_id"].iloc[0]
    sides = [(trial, "base-01|flav-01=2.0"), ("base-00|flav-00=2.0", "base-00|flav-02=2.0"), (trial, "base-02|")]
    rows = [(f"c{n}", 1, question, *side, "left", "Ana") for n, (question, side) in
            enumerate((q, s) for q in ("stronger", "prefer", "odd one out") for s in sides)]  # fmt: skip
    table = pd.DataFrame(rows, columns=["check_id", "serving", "question", "left", "right", "answer", "taster"])
    assert not len(bench.load(comparisons=table).refused)
    named = own(bench) | {"flav-02": None, "flav-01": "plum", "base-02": None}
    shown = bench.contribute(tmp_path / "pool", kitchen="boathouse", public_ids=named)
    there = pd.read_parquet(tmp_path / "pool" / "kitchen=boathouse" / "comparisons.parquet")
    assert there.to_dict("records") == shown.attrs["comparisons"]
    assert there["question"].tolist() == ["stronger", "prefer"]
    assert set(there["right"]) == {"base-01|plum=2.0"}
    first = bench.tables("readings").iloc[0]
    assert there["left"][0].startswith(f"{first['base_id']}|")
    assert trial not in written(tmp_path / "pool").decode("latin-1")
    pool = pairing.learn_pooled(tmp_path / "pool")
    assert not pool.damaged
    bench.contribute(tmp_path / "pool", kitchen="boathouse", public_ids={"flav-01": None})
    assert not (tmp_path / "pool" / "kitchen=boathouse" / "comparisons.parquet").exists()


def test_an_id_without_a_public_one_is_asked_for(bench, tmp_path):
    with pytest.raises(PoolError, match="3 bases have no public id"):
        bench.contribute(tmp_path / "pool", kitchen="boathouse")
    with pytest.raises(PoolError, match="no public id"):
        bench.name_publicly({next(iter(bench.shelf().bases)): "Ana's oat"})
    with pytest.raises(PoolError, match="neither a base nor a flavouring"):
        bench.name_publicly({"nothing": "plum"})
    with pytest.raises(PoolError, match="no name for a kitchen"):
        bench.contribute(tmp_path / "pool", kitchen="Ana's kitchen")


def test_cups_with_what_stays_at_home_stay_too(bench, tmp_path):
    private = next(iter(bench.shelf().flavourings))
    given = bench.contribute(tmp_path / "pool", kitchen="boathouse", public_ids=own(bench) | {private: None})
    assert private not in set(given["flavouring_id"])
    assert private not in set(pd.read_parquet(tmp_path / "pool" / "flavourings.parquet")["flavouring_id"])
    assert given.attrs["kept_home"] == given.attrs["because"][private] > 0
    assert given.attrs["cups"] + given.attrs["kept_home"] == 20


def test_giving_again_replaces_and_can_be_taken_back(bench, tmp_path):
    pool = tmp_path / "pool"
    first = bench.contribute(pool, kitchen="boathouse", public_ids=own(bench))
    private = next(iter(bench.shelf().flavourings))
    second = bench.contribute(pool, kitchen="boathouse", public_ids={private: None})
    assert len(second) < len(first)
    assert len(pd.read_parquet(pool / "kitchen=boathouse" / "part-0.parquet")) == len(second)
    assert bench.withdraw(pool, kitchen="boathouse") == 1
    assert not (pool / "kitchen=boathouse").exists()
    with pytest.raises(PoolError, match="nothing of a kitchen"):
        bench.withdraw(pool, kitchen="boathouse")


def test_doses_travel_as_multiples_of_the_label(kitchen, tmp_path):
    """A bottle that is five times as strong, with a label that says so, gives the same contribution."""
    palate = kitchen(9000)
    log = palate.log(15, np.random.default_rng(4))
    strong = palate.flavourings_df.assign(label_dose_g_per_kg=palate.flavourings_df["label_dose_g_per_kg"] / 5)
    one = bench_of(palate, log, tmp_path / "one")
    other = Bench.create(tmp_path / "other")
    other.load(bases=palate.bases_df, flavourings=strong, readings=log.assign(dose_g_per_kg=log["dose_g_per_kg"] / 5))
    pool = tmp_path / "pool"
    a = one.contribute(pool, kitchen="one", public_ids=own(one))
    b = other.contribute(pool, kitchen="other", public_ids=own(other))
    assert np.allclose(a["dose_g_per_kg"], b["dose_g_per_kg"], rtol=1e-3)


def test_what_is_alike_is_suggested(bench, kitchen, tmp_path):
    pool = tmp_path / "pool"
    bench.contribute(pool, kitchen="boathouse", public_ids=own(bench))
    palate = kitchen(9001)
    first, second, third = palate.flavouring_ids[:3]
    other = bench_of(
        palate, palate.log(8, np.random.default_rng(5)), tmp_path / "other", rename={first: "mine", second: "other"}
    )
    found = other.suggest_public_ids(pool).set_index("own_id")
    assert tuple(found.loc["mine", ["public_id", "why"]]) == (first, "same name")
    assert tuple(found.loc[third, ["public_id", "why"]]) == (third, "same id")


def test_a_bench_learns_with_what_it_adopted_until_it_drops_it(bench, prior, tmp_path):
    alone = bench.learn()
    assert bench.adopted is None
    bench.adopt(prior.save(tmp_path / "prior.npz"))
    told = bench.learn()
    assert POOL in told.liking.columns.start
    assert told.prior.facts == prior.facts
    again = Bench.open(tmp_path / "bench").choose_plugins("").learn()  # from what was kept
    recipes = [Recipe(b, {f: None}) for b in bench.shelf().bases for f in bench.shelf().flavourings]
    one, other = (m.predict(recipes) for m in (told, again))
    assert np.allclose(one, other, atol=1e-5)
    assert np.abs(one["liking"] - alone.predict(recipes)["liking"]).max() > 0.1
    bench.adopt(None)
    assert np.allclose(bench.learn().predict(recipes), alone.predict(recipes))


def test_an_adopted_prior_outlives_what_is_cached(bench, prior):
    bench.adopt(prior)
    for number in range(12):
        bench.store_blob(f"other {number}", b"content")
    bench.erase_taster("Ana")
    assert bench.adopted is not None


@pytest.mark.parametrize("name", ["folder", "book.xlsx"])
def test_it_goes_along_with_everything(bench, prior, tmp_path, name):
    bench.adopt(prior)
    bench.name_publicly({next(iter(bench.shelf().bases)): "plain-oat"})
    bench.export(tmp_path / name, everything=True)
    again = Bench.create(tmp_path / "again")
    again.load(tmp_path / name)
    assert again.adopted_bytes == bench.adopted_bytes
    assert again.public_ids == bench.public_ids
    bench.adopt(None)
    again.load(tmp_path / name)
    assert again.adopted is not None


def test_an_export_whose_prior_is_spoilt_is_refused(bench, prior, tmp_path):
    bench.adopt(prior)
    file = bench.export(tmp_path / "out", everything=True) / "kept.csv"
    file.write_text(file.read_text().replace("prior,", "prior,no bytes", 1))
    with pytest.raises(TableError, match="kept is not as it was exported"):
        Bench.create(tmp_path / "again").load(tmp_path / "out")


def test_it_can_be_salvaged(bench, prior, tmp_path):
    bench.adopt(prior)
    bench.learn()
    assert not salvage(tmp_path / "bench" / FILE_NAME, tmp_path / "saved")
    assert Bench.open(tmp_path / "saved").adopted_bytes == bench.adopted_bytes


def test_another_bench_brings_its_prior_where_there_is_none(bench, prior, kitchen, tmp_path):
    palate = kitchen(9001)
    base = palate.base_ids[0]
    other = bench_of(palate, palate.log(4, np.random.default_rng(5)), tmp_path / "other")
    other.correct("bases", base, {"name": "Something else"})
    other.name_publicly({base: base})
    other.adopt(prior)
    report = bench.merge(other)
    assert report.prior
    assert bench.adopted_bytes == other.adopted_bytes
    assert bench.public_ids == {f"{base}~2": base}
    assert not bench.merge(other).prior


def test_a_guest_adopts_nothing(bench, prior, tmp_path):
    guest = Bench.open(tmp_path / "bench", author="guest", role="guest")
    for change in (lambda: guest.adopt(prior), lambda: guest.name_publicly({next(iter(guest.shelf().bases)): "oat"})):
        with pytest.raises(StoreError, match="may not change what others wrote"):
            change()
    assert bench.adopted is None


def test_a_prior_of_other_things_is_refused(kitchen, prior, tmp_path):
    palate = kitchen(9000)
    names = {one: f"my-{one}" for one in (*palate.base_ids, *palate.flavouring_ids)}
    bench = bench_of(palate, palate.log(5, np.random.default_rng(1)), tmp_path / "bench", rename=names)
    nobody = {key: one for key, one in prior.effects.items() if key[1] not in ("base", "flavouring")}
    nothing = {key: replace(prior.effects[key], names=()) for key in prior.effects if key not in nobody}
    with pytest.raises(PoolError, match="names no base and no flavouring"):
        bench.adopt(replace(prior, effects=nobody | nothing))
    with pytest.raises(PoolError, match="knows no base and no flavouring"):
        bench.adopt(prior)
    bench.name_publicly({own: public for public, own in names.items()})
    bench.adopt(prior)
    assert len(bench.learn().liking.pool.known["flavouring"].keys) == 8


def test_the_planner_goes_by_it(kitchen, prior, tmp_path):
    """After three cups, what it suggests is truly better with the prior than without."""
    gains = []
    for number in range(4):
        palate = kitchen(9100 + number)
        log = palate.log(3, np.random.default_rng(number))
        bench = bench_of(palate, log, tmp_path / f"bench-{number}")
        likings = []
        for told in (None, prior):
            bench.adopt(told)
            found = bench.learn().suggest(n=3, random_state=0)
            likings.append(palate.true_likings([one.recipe for one in found]).mean())
        gains.append(likings[1] - likings[0])
    assert np.mean(gains) > 0.3
