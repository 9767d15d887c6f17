"""What is liked less and less is found, and what only scatters is not."""

import numpy as np
import pandas as pd
import pytest

from pairing.learned.rotation import falling

RECIPES = [("oat", ("plum",)), ("oat", ("mint",)), ("milk", ("plum", "mint")), ("milk", ("mint",))]


def season(slopes, seed=0, weeks=8, noise=0.8, **changed):
    """Return a log in which every recipe is tasted by two people once a week, each moving by its points a week."""
    rng = np.random.default_rng(seed)
    rows = []
    for week in range(weeks):
        for n, ((base, inside), slope) in enumerate(zip(RECIPES, slopes, strict=True)):
            for taster, own in (("ana", 0.5), ("bo", -0.5)):
                liking = float(np.clip(np.round(6.5 + own + slope * week + rng.normal(0, noise)), 1, 9))
                at = pd.Timestamp("2026-01-05T18:00") + pd.Timedelta(weeks=week, hours=n)
                rows += [
                    {"trial_id": f"{n}-{week}", "base_id": base, "flavouring_id": f, "dose_g_per_kg": 1.0, "reading": 1,
                     "taster": taster, "liking": liking, "tasted_at": at.isoformat(), "stepped": "no", "glass": None}
                    for f in inside
                ]  # fmt: skip
    return pd.DataFrame(rows).assign(**changed)


def test_what_falls_is_found_with_how_fast_and_how_sure():
    (found,) = falling(season((0.0, 0.0, -0.4, 0.0)), noise_sd=0.8)
    assert (found.base_id, found.flavouring_ids, found.cups, found.weeks) == (
        "milk",
        ("mint", "plum"),
        8,
        pytest.approx(7),
    )
    assert found.low < -0.3 < found.high + 0.2
    assert found.high < 0
    assert found.p_falling > 0.97


def test_what_only_scatters_is_seldom_found():
    false = [falling(season((0.0,) * 4, seed=seed), noise_sd=0.8) for seed in range(40)]
    assert sum(map(bool, false)) <= 4


def test_what_rises_is_never_told_and_what_all_do_counts_less():
    assert falling(season((0.4, 0.0, 0.0, 0.0)), noise_sd=0.8) == ()
    alone = falling(season((-0.5, 0.0, 0.0, 0.0)), noise_sd=0.8)[0]
    together = [one for one in falling(season((-0.5,) * 4), noise_sd=0.8) if one.flavouring_ids == ("plum",)]
    assert not together or together[0].points_per_week > alone.points_per_week


@pytest.mark.parametrize(
    "changed", [{"stepped": "yes"}, {"tasted_at": None}, {"liking": None}, {"flavouring_id": None}]
)
def test_cups_that_tell_nothing_are_left_out(changed):
    assert falling(season((-0.5, 0.0, 0.0, 0.0), **changed), noise_sd=0.8) == ()


def test_other_doses_and_few_weeks_say_nothing():
    rows = season((-0.5, 0.0, 0.0, 0.0), weeks=3)
    assert falling(rows, noise_sd=0.8) == ()
    rows = season((-0.5, 0.0, 0.0, 0.0))
    grows = rows["trial_id"].str[2:].astype(int)
    assert falling(rows.assign(dose_g_per_kg=np.exp(0.4 * grows)), noise_sd=0.8) == ()
