"""A pool is learned alike in one part or in many, by one process or several; what cannot be used is named."""

import numpy as np
import pandas as pd
import pytest
from pools import kitchens, write_pool

import pairing
from pairing import Recipe
from pairing.errors import PoolError
from pairing.pooling import folder as folders
from pairing.pooling import stored_parts

N = 8


@pytest.fixture(scope="module")
def kitchen():
    return kitchens(0.7, n_bases=3, n_flavourings=8)


@pytest.fixture(scope="module")
def pool_folder(kitchen, tmp_path_factory):
    to = tmp_path_factory.mktemp("pool")
    write_pool(to, kitchen, N, trials=25, change=with_two_tasters)
    return to


def with_two_tasters(log, number):
    """Let a guest judge every second session of every third kitchen."""
    if number % 3:
        return log
    return log.assign(taster=np.where(log["session"].str[-1].isin(list("02468")), "ana", "ben"))


def asked(palate):
    return [Recipe(b, dict.fromkeys(f)) for b, f in palate.combinations(2)]


@pytest.fixture(scope="module")
def pool(pool_folder):
    return pairing.learn_pooled(pool_folder)


def test_what_is_shared_is_found(pool, kitchen):
    common = np.mean([kitchen(2000 + i).true_likings(asked(kitchen(2000))) for i in range(N)], axis=0)
    found = pool.predict(asked(kitchen(2000)))
    assert np.corrcoef(found["liking"], common)[0, 1] > 0.7
    needed = pool.needed_dose()
    cells = list(zip(needed["base_id"], needed["flavouring_id"], strict=True))
    truth = np.mean([[kitchen(2000 + i).true_log_dose(*cell) for cell in cells] for i in range(N)], axis=0)
    label = np.log(needed["dose_g_per_kg"] / needed["label_ratio"])
    off, by_label = (np.sqrt(np.mean((x - truth) ** 2)) for x in (np.log(needed["dose_g_per_kg"]), label))
    assert off < 0.6 * by_label
    assert needed["readings"].sum() > 500


def test_one_part_or_many_give_one_answer(pool, pool_folder, kitchen, monkeypatch):
    assert len(folders.sources_of(pool_folder)) == 1
    monkeypatch.setattr(folders, "PART_BYTES", 1)
    assert len(folders.sources_of(pool_folder)) == N
    many = pairing.learn_pooled(pool_folder)
    for one, other in (
        (pool.predict(asked(kitchen(2000))), many.predict(asked(kitchen(2000)))),
        (pool.needed_dose(), many.needed_dose()),
        (pool.base_factor(), many.base_factor()),
        (pool.synergy(), many.synergy()),
        (pool.synergy("base-00", beside="base-01"), many.synergy("base-00", beside="base-01")),
    ):
        numbers = one.select_dtypes("number")
        assert np.allclose(numbers, other[numbers.columns], rtol=0, atol=1e-8, equal_nan=True)
    assert np.allclose(list(pool.liking.variances.values()), list(many.liking.variances.values()), rtol=1e-8)


def test_a_pool_without_a_log_tells_what_was_tried(pool, pool_folder, kitchen):
    told = pool.synergy()
    assert told["trials"].sum() > 50
    assert (told["liked"] <= told["trials"]).all()
    assert told.loc[told["tested"], "bases"].map(len).between(1, 3).all()
    singles = pool.worths.singles()
    assert singles["trials"].sum() == pool.worths.affinity()["trials"].sum() > pool.cups
    assert pool.base_factor()["factor"].prod() == pytest.approx(1.0)


def test_nothing_remembered_changes_nothing(pool, pool_folder, kitchen, monkeypatch):
    monkeypatch.setattr(folders, "PART_BYTES", 1)
    stored_parts.remember(0)
    try:
        streamed = pairing.learn_pooled(pool_folder, tasks=3)
    finally:
        stored_parts.remember(stored_parts.BUDGET_BYTES)
    one, other = (p.predict(asked(kitchen(2000)))["liking"] for p in (pool, streamed))
    assert np.allclose(one, other, rtol=0, atol=1e-8)


def test_one_kitchen_alone_is_told_what_a_bench_is(tmp_path, kitchen):
    """Both have the same blocks but for a kitchen's own cells, and go another way to the variances."""
    palate = kitchen(2000)
    log = write_pool(tmp_path, kitchen, 1, trials=60)[0]
    pooled = pairing.learn_pooled(tmp_path)
    alone = pairing.learn(palate.bases_df, palate.flavourings_df, log)
    one, other = (np.log(m.needed_dose()["dose_g_per_kg"]) for m in (pooled, alone))
    assert np.sqrt(np.mean((one - other) ** 2)) < 0.1
    one, other = (m.predict(asked(palate))["liking"] for m in (pooled, alone))
    assert np.sqrt(np.mean((one - other) ** 2)) < 0.35


def test_stages_are_told_and_a_stopped_run_goes_on(pool, pool_folder, kitchen, tmp_path, monkeypatch):
    heard = []

    def stop_after_doses(progress):
        heard.append((progress.stage, progress.done, progress.of))
        if progress.stage == "needed doses":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pairing.learn_pooled(pool_folder, resume=tmp_path / "work", progress=stop_after_doses)
    assert heard == [("readings", 1, 7), ("needed doses", 2, 7)]

    def never(*_):
        raise AssertionError("this stage had been finished")

    monkeypatch.setattr("pairing.pooling.fit.fit_doses", never)
    with monkeypatch.context() as newer:
        newer.setattr("pairing.pooling.stored_parts._KEPT", 99)  # a program that keeps something else starts anew
        with pytest.raises(AssertionError, match="had been finished"):
            pairing.learn_pooled(pool_folder, resume=tmp_path / "work")
    again = pairing.learn_pooled(pool_folder, resume=tmp_path / "work")
    one, other = (p.predict(asked(kitchen(2000)))["liking"] for p in (pool, again))
    assert np.allclose(one, other, rtol=0, atol=1e-10)


@pytest.fixture
def damaged(tmp_path, kitchen):
    import pyarrow as pa
    import pyarrow.parquet as pq

    logs = write_pool(tmp_path, kitchen, 6, trials=15)
    file = [tmp_path / f"kitchen=k{i:03d}" / "part-0.parquet" for i in range(6)]
    file[1].write_bytes(file[1].read_bytes()[:-200])
    later = pa.Table.from_pandas(logs[2]).replace_schema_metadata({folders.VERSION_KEY: b"99"})
    pq.write_table(later, file[2])
    logs[3].assign(liking=12.0).to_parquet(file[3])
    logs[4].assign(dose_g_per_kg=logs[4]["dose_g_per_kg"] / 1000).to_parquet(file[4])
    return tmp_path


def test_files_that_cannot_be_used_are_named_and_refused(damaged):
    with pytest.raises(PoolError) as error:
        pairing.learn_pooled(damaged)
    told = str(error.value)
    assert "4 files" in told
    for name, why in (("k001", "cannot be read"), ("k002", "version 99"), ("k003", "liking is 12"), ("k004", "unit")):
        assert name in told
        assert why in told


def test_the_rest_goes_on_if_told_so(damaged):
    pool = pairing.learn_pooled(damaged, on_damaged="skip")
    assert pool.kitchens == 2
    assert sorted(path.split("kitchen=")[1][:4] for path, _ in pool.damaged) == ["k001", "k002", "k003", "k004"]


def test_what_is_no_pool_is_refused(tmp_path, kitchen):
    with pytest.raises(PoolError, match=r"no bases\.parquet"):
        pairing.learn_pooled(tmp_path)
    write_pool(tmp_path, kitchen, 0)
    with pytest.raises(PoolError, match="holds no kitchen"):
        pairing.learn_pooled(tmp_path)
    with pytest.raises(PoolError, match="on_damaged"):
        pairing.learn_pooled(tmp_path, on_damaged="ignore")
    (tmp_path / "kitchen=k").mkdir()
    pd.DataFrame(
        {"trial_id": ["t"], "base_id": [kitchen(1).base_ids[0]], "flavouring_id": [None], "dose_g_per_kg": [0.0]}
    ).to_parquet(tmp_path / "kitchen=k" / "part-0.parquet")
    with pytest.raises(PoolError, match="holds a liking or a strength"):
        pairing.learn_pooled(tmp_path)
