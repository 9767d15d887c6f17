"""Learned state kept in the bench: the same answers from another process, and updates that equal learning afresh."""

import dataclasses
import io
import json

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate

from pairing import Bench, Recipe
from pairing.errors import StoreError
from pairing.host import load
from pairing.learned import learn_shelf, packed
from pairing.learned.stored import pack, state_key, unpack
from pairing.learning import liking
from pairing.learning.posterior import Posterior

PALATE = make_palate(51, 4, 10, 2)


def halves():
    log = PALATE.log(90, np.random.default_rng(51))
    early = log["trial_id"] <= "t00074"
    return log[early], log[~early]


def stocked(folder, *logs):
    bench = Bench.create(folder)
    bench.load(bases=PALATE.bases_df, flavourings=PALATE.flavourings_df)
    for log in logs:
        bench.load(readings=log)
    return bench


RECIPES = [Recipe(b, dict.fromkeys(ids)) for b, ids in PALATE.combinations(2)[::7]]


def answers(model):
    liking = model.predict(RECIPES), model.predict(RECIPES, "taster-1"), model.predict(RECIPES, "new")
    return [*liking, model.needed_dose(), model.base_factor(), model.synergy().drop(columns="bases")]


def assert_same(one, two, **tolerance):
    for a, b in zip(answers(one), answers(two), strict=True):
        pd.testing.assert_frame_equal(a, b, **tolerance)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    bench = stocked(tmp_path_factory.mktemp("kept") / "bench", *halves())
    return bench, bench.learn()


def test_a_state_that_was_learned_with_other_blocks_is_not_read(kept, monkeypatch):
    bench, _ = kept
    before = state_key(bench)
    monkeypatch.setattr(liking, "BLOCKS", (*liking.BLOCKS, dataclasses.replace(liking.BLOCKS[-1], name="colour")))
    assert state_key(bench) != before


def test_what_was_packed_comes_back_equal(kept):
    bench, model = kept
    again = unpack(pack(model), model.shelf, model.log, bench.host.rules)
    assert again is not None
    assert_same(model, again, rtol=2e-4, atol=2e-4)
    recipe = RECIPES[-1]
    pd.testing.assert_frame_equal(model.explain(recipe), again.explain(recipe), rtol=1e-3, atol=1e-4)
    assert again.response.noise_sd == model.response.noise_sd
    np.testing.assert_array_equal(again.strength_params.thresholds, model.strength_params.thresholds)


def test_another_opening_answers_from_what_is_kept_without_learning(kept, monkeypatch):
    bench, model = kept

    def never(*args, **options):
        raise AssertionError("it learned again")

    monkeypatch.setattr("pairing.learned.stored.fit", never)
    assert_same(model, Bench.open(bench.place).learn(), rtol=2e-4, atol=2e-4)


def test_one_more_trial_makes_the_kept_state_stale(tmp_path):
    early, late = halves()
    bench = stocked(tmp_path / "bench", early)
    before = bench.learn()
    first = late[late["trial_id"] == late["trial_id"].iloc[0]]
    bench.load(readings=first)
    after = bench.learn()
    assert after.revision > before.revision
    assert after.log.trials[-1] == first["trial_id"].iloc[0]
    assert len(after.log) == len(before.log) + first["reading"].nunique()


def test_many_corrections_leave_one_state_in_the_bench(tmp_path):
    bench = stocked(tmp_path / "bench", halves()[0])
    bench.store_blob("something/else", b"of another kind")
    for n in range(10):
        bench.correct("flavourings", PALATE.flavouring_ids[0], {"name": f"Name {n}"})
        assert bench.learn().revision == bench.revision
    assert bench.load_blob("something/else") == b"of another kind"


def test_the_same_log_gives_the_same_answer_whatever_was_asked_before(tmp_path):
    early, late = halves()
    asked, quiet = (stocked(tmp_path / name, early) for name in ("asked", "quiet"))
    for bench in (asked, quiet):
        for name in late["trial_id"].unique()[:4]:
            bench.load(readings=late[late["trial_id"] == name])
            if bench is asked:
                bench.learn()
    assert_same(asked.learn(), quiet.learn(), rtol=1e-6)  # covariances are kept in single precision


def test_an_update_equals_learning_afresh(tmp_path, monkeypatch):
    monkeypatch.setattr("pairing.learned.stored.AFRESH", 0)
    monkeypatch.setattr("pairing.learned.stored.GROWN", 1.0)
    early, late = halves()
    bench = stocked(tmp_path / "bench", early)
    bench.learn()
    for name in late["trial_id"].unique()[:3]:
        bench.load(readings=late[late["trial_id"] == name])
        updated = bench.learn()
    fresh = learn_shelf(bench.shelf(), bench.tables("readings"), rules=load(bench.plugin_folder.parent).rules)
    for one, two in zip(answers(updated)[:3], answers(fresh)[:3], strict=True):
        assert np.abs(one["liking"] - two["liking"]).max() < 0.12
        np.testing.assert_allclose(one["liking_sd"], two["liking_sd"], rtol=0.08)
    doses = updated.needed_dose(), fresh.needed_dose()
    assert np.abs(np.log(doses[0]["dose_g_per_kg"] / doses[1]["dose_g_per_kg"])).max() < 0.05
    np.testing.assert_allclose(doses[0]["log_sd"], doses[1]["log_sd"], rtol=0.08)


def test_a_log_that_has_grown_is_learned_afresh(tmp_path, monkeypatch):
    monkeypatch.setattr("pairing.learned.stored.AFRESH", 0)
    early, late = halves()
    bench = stocked(tmp_path / "bench", early)
    before = bench.learn()
    one = late["trial_id"].unique()[0]
    bench.load(readings=late[late["trial_id"] == one])
    assert bench.learn().afresh_n == before.afresh_n == len(before.log)
    bench.load(readings=late)
    after = bench.learn()
    assert after.afresh_n == len(after.log) > before.afresh_n


def test_an_update_follows_evidence_that_drifts(tmp_path, monkeypatch):
    monkeypatch.setattr("pairing.learned.stored.AFRESH", 0)
    monkeypatch.setattr("pairing.learned.stored.GROWN", 1.0)
    """First a dull log, then one full of contrasts: the variances have to move."""
    early, late = halves()
    dull = early.assign(liking=early["liking"].where(early["liking"].isna(), 5.0))
    bench = stocked(tmp_path / "bench", dull)
    before = bench.learn()
    bench.load(readings=late.assign(liking=late["liking"].where(late["liking"].isna(), 1 + 8 * (late.index % 2))))
    after = bench.learn()
    assert after.response.noise_sd > 1.5 * before.response.noise_sd


def test_state_of_other_settings_or_another_shelf_is_not_used(kept, tmp_path):
    _, model = kept
    other = stocked(tmp_path / "other", halves()[0])
    other.load(flavourings=pd.DataFrame({"flavouring_id": ["new"], "name": ["New"], "label_dose_g_per_kg": [1.0]}))
    assert unpack(pack(model), other.shelf(), model.log, other.host.rules) is None
    key = state_key(other)
    other.configure(currency="CHF")
    assert state_key(other) != key


@pytest.mark.parametrize("spoil", [lambda b: b[: len(b) // 2], lambda b: b"no archive", lambda b: b""])
def test_spoilt_state_is_left_aside(kept, spoil):
    bench, model = kept
    assert unpack(spoil(pack(model)), model.shelf, model.log, bench.host.rules) is None


def one_more(bench, late, n=0):
    """Another process logs a trial."""
    Bench.open(bench.place).load(readings=late[late["trial_id"] == late["trial_id"].unique()[n]])


def test_a_trial_logged_while_the_log_is_read_is_in_the_answer(tmp_path, monkeypatch):
    """What is kept answers for the revision that was looked up, not for the log that was read after it."""
    early, late = halves()
    bench = stocked(tmp_path / "bench", early)
    before = bench.learn()
    slow, shelf = Bench.open(bench.place), Bench.shelf

    def shelf_after_a_log(self):
        monkeypatch.undo()
        one_more(bench, late)
        return shelf(self)

    monkeypatch.setattr(Bench, "shelf", shelf_after_a_log)
    found = slow.learn()
    assert len(found.log) > len(before.log)
    assert found.strength.evidence_n > before.strength.evidence_n


def test_a_slow_learner_leaves_the_newer_state_of_another_in_place(tmp_path, monkeypatch):
    from pairing.learned import stored

    early, late = halves()
    bench = stocked(tmp_path / "bench", early)
    fit, newer = stored.fit, []

    def fit_while_another_logs_and_learns(*args, **options):
        monkeypatch.undo()
        one_more(bench, late)
        newer.append(Bench.open(bench.place).learn().revision)
        return fit(*args, **options)

    monkeypatch.setattr(stored, "fit", fit_while_another_logs_and_learns)
    slow = Bench.open(bench.place)
    assert slow.learn().revision < newer[0]
    again = Bench.open(bench.place)
    monkeypatch.setattr(stored, "fit", None)  # nothing is left to learn
    assert again.learn().revision == newer[0]


def test_a_bench_that_cannot_be_written_to_can_be_asked(tmp_path, monkeypatch):
    bench = stocked(tmp_path / "bench", halves()[0])

    def refuse(self, key, content):
        raise StoreError("the bench cannot be written", "make the folder writable")

    monkeypatch.setattr(Bench, "store_blob", refuse)
    assert np.isfinite(bench.learn().predict(RECIPES[:3])["liking"]).all()


def tampered(blob, change, *, signed=False):
    """Kept state with something changed in it; ``signed``: with a checksum that fits."""
    arrays = dict(np.load(io.BytesIO(blob), allow_pickle=False))
    meta = json.loads(arrays["meta"].tobytes())
    change(arrays, meta)
    if signed:
        arrays = {name: a for name, a in arrays.items() if name not in ("meta", "checksum")}
        return packed.write(arrays, meta)
    arrays["meta"] = np.frombuffer(json.dumps(meta).encode(), np.uint8)
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)
    return buffer.getvalue()


def set_nan(name):
    def change(arrays, meta):
        arrays[name] = np.array(arrays[name])
        arrays[name].flat[0] = np.nan

    return change


def drop(name):
    return lambda arrays, meta: arrays.pop(name)


def shorten(name):
    return lambda arrays, meta: arrays.update({name: arrays[name][:-1]})


def scale(name):
    return lambda arrays, meta: arrays.update({name: arrays[name] * 1.01})


def forget(*path):
    def change(arrays, meta):
        for step in path[:-1]:
            meta = meta[step]
        del meta[path[-1]]

    return change


TAMPERINGS = [
    set_nan("liking/mean"), set_nan("strength/cov"), shorten("liking/mean"), shorten("strength/cov"), drop("ordinal"),
    drop("liking/slopes"), shorten("strength/keys/flavouring"), drop("log/liking"), forget("parts", "liking"),
    forget("parts", "strength", "variances"), forget("bases"), forget("faults"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "signed"),
    [
        *((change, signed) for change in TAMPERINGS for signed in (False, True)),
        *((scale(name), False) for name in ("liking/mean", "liking/cov", "log/liking")),
    ],
)
def test_tampered_state_is_learned_afresh(kept, change, signed):
    """A checksum tells every change; a form that fits no state is told even where the checksum was made anew."""
    bench, model = kept
    blob = bench.load_blob(state_key(bench))
    try:
        bench.store_blob(state_key(bench), tampered(blob, change, signed=signed))
        again = Bench.open(bench.place).learn()
        assert_same(model, again, rtol=2e-4, atol=2e-4)
        assert Bench.open(bench.place).load_blob(state_key(bench)) == blob  # whole again
    finally:
        bench.store_blob(state_key(bench), blob)


def test_the_state_of_another_bench_is_not_taken(tmp_path):
    early, late = halves()
    one, other = stocked(tmp_path / "one", early), stocked(tmp_path / "other", late)
    one.learn()
    right = other.learn()
    assert state_key(one) == state_key(other)
    assert one.revision == other.revision
    other.store_blob(state_key(other), one.load_blob(state_key(one)))
    assert_same(right, Bench.open(other.place).learn(), rtol=2e-4, atol=2e-4)


def test_the_whole_log_is_kept(kept):
    bench, model = kept
    again = Bench.open(bench.place).learn()
    for f in dataclasses.fields(model.log):
        mine, other = getattr(model.log, f.name), getattr(again.log, f.name)
        for one, two in zip(*(vars_of(x) for x in (mine, other)), strict=True):
            if isinstance(one, np.ndarray):
                np.testing.assert_array_equal(one, two)
                assert one.dtype == two.dtype
            else:
                assert one == two


def vars_of(value):
    return [getattr(value, f.name) for f in dataclasses.fields(value)] if dataclasses.is_dataclass(value) else [value]


def test_what_is_too_large_for_a_covariance_is_kept_as_draws(kept):
    bench, model = kept
    mean = model.liking.posterior.mean
    drawn = 0.1 * np.random.default_rng(0).standard_normal((len(mean), 32))
    part = dataclasses.replace(model.liking, posterior=Posterior(mean, draw=lambda n: drawn[:, :n]))
    large = dataclasses.replace(model, liking=part)
    again = unpack(pack(large), model.shelf, model.log, bench.host.rules)
    np.testing.assert_allclose(again.predict(RECIPES)["liking_sd"], large.predict(RECIPES)["liking_sd"], rtol=1e-5)


def test_numbers_are_kept_in_few_bits_and_come_back_exactly():
    rng = np.random.default_rng(0)
    arrays = {
        "codes": rng.integers(-1, 200, 5000),
        "far": np.array([2**40, -1]),
        "liking": np.where(rng.random(5000) < 0.1, np.nan, rng.integers(1, 10, 5000).astype(float)),
        "dose": rng.lognormal(size=5000),
        "large": np.array([1e300, np.inf, 0.1]),
        "nothing": np.empty(0),
    }
    blob = packed.write(arrays, {})
    found, _ = packed.read(blob)
    for name, array in arrays.items():
        np.testing.assert_array_equal(found[name], array)
        assert found[name].dtype == array.dtype
    assert len(blob) < 0.6 * sum(array.nbytes for array in arrays.values())


def test_what_only_cups_that_were_judged_can_use_is_not_kept(kept):
    _, model = kept
    columns = model.strength.columns
    many = dataclasses.replace(
        model.strength.posterior, cov=None, inverse=None, draw=lambda n: np.arange(columns.n * n).reshape(-1, n) * 1.0
    )
    strength = dataclasses.replace(model.strength, posterior=many)
    assert "cup" in columns.keys
    arrays, meta = packed.read(pack(dataclasses.replace(model, strength=strength)))
    gap = columns.slice("cup")
    assert "strength/keys/cup" not in arrays
    assert len(arrays["strength/draws"]) == columns.n - (gap.stop - gap.start)
    expected = np.delete(many.deviations, gap, axis=0)
    np.testing.assert_array_equal(arrays["strength/draws"], expected)
    assert set(meta["parts"]["strength"]["start"]) == set(columns.keys) - {"cup"}
