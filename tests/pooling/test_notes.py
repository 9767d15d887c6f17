"""Off-notes of many kitchens: what is shared is found, what few stand behind is withheld, a newcomer is told."""

import numpy as np
import pandas as pd
import pytest
from pools import kitchens, write_pool

import pairing
from pairing.learned.prior import OFF_NOTE, Prior
from pairing.learning.off_notes import fit_off_notes
from pairing.learning.parts import HeldParts
from pairing.model.recipe import Recipe
from pairing.pooling.contribution import PUBLIC_NOTES
from pairing.pooling.folder import open_pool
from pairing.pooling.notes import Noted, fit_notes
from pairing.store.cells import read_column

N, SILENT = 12, 1


@pytest.fixture(scope="module")
def kitchen():
    return kitchens(0.7, n_bases=3, n_flavourings=6)


def chance(palate, base, flavourings, number):
    """Beany in the first base, less so with the first flavouring; the same in all kitchens but for their average."""
    own = 0.4 * np.random.default_rng([9, number]).standard_normal()
    x = -1.5 + own + 2.0 * (base == palate.base_ids[0]) - 1.5 * (palate.flavouring_ids[0] in flavourings)
    return 1.0 / (1.0 + np.exp(-x))


def with_notes(palate):
    def change(log, number):
        rng = np.random.default_rng([66, number])
        inside = log.groupby("trial_id")["flavouring_id"].agg(set)
        base = log.groupby("trial_id")["base_id"].first()
        found = {t: rng.random() < chance(palate, base[t], inside[t], number) for t in inside.index}
        scored = log["liking"].notna().groupby([log["trial_id"], log["reading"]]).transform("any")
        notes = ["beany:2" if found[t] and said else None for t, said in zip(log["trial_id"], scored, strict=True)]
        if number == 1:
            notes = [f"{n};fishy:1" if n else "fishy:1" for n in notes]
        return log.assign(off_notes=None if number < SILENT else notes)

    return change


@pytest.fixture(scope="module")
def folder(kitchen, tmp_path_factory):
    to = tmp_path_factory.mktemp("pool")
    write_pool(to, kitchen, N, trials=30, change=with_notes(kitchen(1)))
    return to


@pytest.fixture(scope="module")
def pool(folder):
    return pairing.learn_pooled(folder)


def columns(pool):
    bases, flavourings = list(pool.shelf.bases), list(pool.shelf.flavourings)
    return {name: place for place, name in enumerate(["", *bases, *flavourings])}


def test_what_kitchens_share_is_found(pool, kitchen):
    fit, at = pool.notes["beany"], columns(pool)
    first, *others = (fit.mean[at[b]] for b in kitchen(1).base_ids)
    assert first - np.mean(others) > 1.0
    rest = [fit.mean[at[f]] for f in kitchen(1).flavouring_ids[1:]]
    assert fit.mean[at[kitchen(1).flavouring_ids[0]]] < min(rest)
    assert fit.strength == 2.0
    assert fit.found.kitchens[0] >= N - 3


def test_kitchens_that_never_write_one_down_are_not_asked(pool):
    assert pool.behind.kitchens.max() == N - SILENT


def test_one_part_or_two_give_one_answer(folder, pool):
    shelf, sources = open_pool(folder)
    from pairing.learning.design import Traits
    from pairing.pooling.folder import Source, read_part

    (source,) = sources.values()
    traits = Traits.of(shelf)
    answers = []
    for cut in ([source.kitchens], [source.kitchens[:5], source.kitchens[5:]]):
        parts = HeldParts(tuple(read_part(Source(some), shelf, traits) for some in cut))
        fitted, _ = fit_notes(parts.then(Noted.of, shelf, np.zeros(len(shelf.flavourings))), shelf)
        answers.append(fitted["beany"])
    for name in ("mean", "variance", "between"):
        np.testing.assert_allclose(getattr(answers[0], name), getattr(answers[1], name), atol=1e-8)


def test_a_note_of_one_kitchen_stays_with_it(pool, tmp_path):
    assert "fishy" in pool.notes
    prior = pool.prior()
    responses = {response for response, _ in prior.effects}
    assert OFF_NOTE + "beany" in responses
    assert OFF_NOTE + "fishy" not in responses
    again = Prior.load(prior.save(tmp_path / "prior.npz"))
    assert again.effects[OFF_NOTE + "beany", "base"].names == prior.effects[OFF_NOTE + "beany", "base"].names


def test_a_newcomer_is_told_before_the_first_cup(pool, kitchen):
    palate = kitchen(9000)
    none = pd.DataFrame({"trial_id": [], "base_id": [], "flavouring_id": [], "dose_g_per_kg": []}, dtype=object)
    model = pairing.learn(palate.bases_df, palate.flavourings_df, none, prior=pool.prior())
    table = model.off_notes().set_index(["base_id", "note"])["probability"]
    first, *others = (table[b, "beany"] for b in palate.base_ids)
    assert first > 1.5 * max(others)
    covered = model.off_notes([Recipe(palate.base_ids[0], {palate.flavouring_ids[0]: None})])["probability"][0]
    assert covered < first


def test_ones_own_cups_correct_it(pool, kitchen):
    """In a kitchen where nothing is ever beany, that is learned."""
    palate = kitchen(9000)
    log = palate.log(60, np.random.default_rng(2))
    bare = pairing.learn(palate.bases_df, palate.flavourings_df, log)
    known = pool.prior().off_notes_on(bare.shelf)
    told = fit_off_notes(bare.shelf, bare.log, known)
    few = fit_off_notes(bare.shelf, bare.log.take(slice(0, 5)), known)
    from pairing.model.recipes import Recipes

    plain = Recipes.of(bare.shelf, [Recipe(b) for b in palate.base_ids])
    assert told.chance("beany", plain)[0].max() < 0.5 * few.chance("beany", plain)[0].max()


def test_public_notes_are_words_that_a_log_can_hold():
    from pairing.model.columns import TABLES
    from pairing.store.problems import Problems

    problems = Problems()
    column = TABLES["readings"].by_name["off_notes"]
    read_column(pd.Series([f"{note}:1@aftertaste" for note in PUBLIC_NOTES], dtype=object), column, problems)
    assert not problems.found
