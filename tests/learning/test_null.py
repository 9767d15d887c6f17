"""Where there is nothing to find, nothing is found: the same logs with likings or strengths shuffled."""

import numpy as np
import pytest
from simulated import make_palate
from small_logs import learn

from pairing import Recipe
from pairing.learned.evaluate import evaluate

SEEDS = (31, 32, 33)


def shuffled(log, columns, seed):
    """Deal the values of whole cups (likings) or of single rows (strengths) anew."""
    rng = np.random.default_rng(seed)
    out = log.copy()
    if "liking" in columns:
        liked = out["liking"].notna()
        scores = out[liked].groupby("trial_id")["liking"].first()
        dealt = dict(zip(scores.index, rng.permutation(scores.to_numpy()), strict=True))
        out.loc[liked, "liking"] = out.loc[liked, "trial_id"].map(dealt)
    if "strength" in columns:
        out["strength"] = rng.permutation(out["strength"].to_numpy())
    return out


@pytest.fixture(scope="module", params=SEEDS)
def kitchen(request):
    palate = make_palate(request.param)
    return palate, palate.log(200, np.random.default_rng(request.param)), request.param


def fit(palate, log):
    return learn(log, bases=palate.bases_df, flavourings=palate.flavourings_df)


def test_shuffled_likings_hold_no_pair(kitchen):
    palate, log, seed = kitchen
    null, real = fit(palate, shuffled(log, ["liking"], seed)), fit(palate, log)
    pairs = null.synergy()
    certain = (pairs["p_positive"] > 0.95) | (pairs["p_positive"] < 0.05)
    tried = pairs["tested"]
    assert certain[tried].mean() <= 0.06
    asked = [Recipe(b, dict.fromkeys(ids)) for b, ids in palate.combinations(2)]
    assert null.predict(asked)["liking"].std() < 0.65 * real.predict(asked)["liking"].std()


def test_shuffled_likings_are_called_no_better_than_the_average(kitchen):
    palate, log, seed = kitchen
    splits = ["new combinations"]
    null = evaluate(fit(palate, shuffled(log, ["liking"], seed)), splits)
    assert "no better than the average" in null.sentences[0]
    real = evaluate(fit(palate, log), splits)
    assert "no better than the average" not in real.sentences[0]
    assert real.table["model"].iloc[0] < 0.95 * real.table["average"].iloc[0]


def test_shuffled_strengths_leave_doses_at_the_label_and_wide(kitchen):
    palate, log, seed = kitchen
    null, real = (fit(palate, each).needed_dose() for each in (shuffled(log, ["strength"], seed), log))
    off = np.log(null["label_ratio"])
    assert (off - off.mean()).std() < 0.5 * (np.log(real["label_ratio"]) - np.log(real["label_ratio"]).mean()).std()
    assert null["log_sd"].mean() > 1.2 * real["log_sd"].mean()


def test_a_planted_pair_is_found_and_lost_when_shuffled():
    """Never tried itself: two flavourings that pair well with everything of the other's family."""
    palate = make_palate(41, 3, 12)
    log = palate.log(260, np.random.default_rng(41), share=(0.4, 0.6, 0.0))
    model = fit(palate, log)
    null = fit(palate, shuffled(log, ["liking"], 0))
    pairs = [(b, s) for b, s in palate.combinations(2) if len(s) == 2]
    truth = palate.true_likings([(b, dict.fromkeys(s)) for b, s in pairs])
    top = set(np.argsort(-truth)[:20].tolist())

    def found(m):
        guess = m.predict([Recipe(b, dict.fromkeys(s)) for b, s in pairs])["liking"].to_numpy()
        return len(top & set(np.argsort(-guess)[:20].tolist()))

    assert found(model) >= 8
    assert found(null) <= 5
