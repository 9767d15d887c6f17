"""What a suggestion says of itself: what was tried, who liked it, and what the goal is."""

import numpy as np
import pandas as pd
from plan_kitchen import shelf

from pairing import Brief
from pairing.learned import learn_shelf


def test_a_cup_that_two_people_tasted_is_told_by_those_who_are_asked():
    def reading(trial, doses, liking, taster="me", reading=1.0):
        common = {"trial_id": trial, "base_id": "oat", "strength": 3, "liking": liking, "taster": taster}
        return [{**common, "reading": reading, "flavouring_id": f, "dose_g_per_kg": d} for f, d in doses.items()]

    plum, both = {"plum": 30.0}, {"plum": 30.0, "pear": 20.0}
    shared = [*reading("a", plum, 9, "ana"), *reading("a", plum, 1, "ben")]
    model = learn_shelf(shelf(), pd.DataFrame(shared))
    for tasters, liking in ((None, 5.0), (("ana",), 9.0), (("ben",), 1.0)):
        only = Brief(bases=("oat",), on_hand=("plum",), max_flavourings=1, tasters=tasters)
        assert model.suggest(only, 1)[0].reasons[0].liking == liking
    model = learn_shelf(shelf(), pd.DataFrame([*reading("a", plum, 8), *reading("a", both, 4, reading=2.0)]))
    said = model.suggest(Brief(bases=("oat",), on_hand=("plum",), max_flavourings=1), 1)[0].reasons[0]
    assert "tried once in oat, liked 8.0" in str(said)
    on_the_way = [{**row, "liking": None} for row in reading("a", plum, 8)]
    model = learn_shelf(shelf(), pd.DataFrame([*on_the_way, *reading("a", both, 4, reading=2.0)]))
    said = model.suggest(Brief(bases=("oat",), on_hand=("plum",), max_flavourings=1), 1)[0].reasons[0]
    assert "tried once in oat, nobody scored it yet" in str(said)


def test_a_likeness_brief_is_explained_by_likeness():
    """Clove makes a cup like the target and is disliked; only the cups that were compared with it count."""
    rng, rows = np.random.default_rng(0), []
    for i in range(30):
        ids = sorted(rng.choice(["plum", "pear", "clove"], size=rng.integers(1, 3), replace=False))
        like = "clove" in ids
        common = {
            "trial_id": f"t{i}",
            "base_id": ["oat", "rice"][i % 2],
            "reading": 1.0,
            "strength": 3,
            "liking": 3 if like else 7,
            "likeness": (8 if like else 1) if i < 24 else np.nan,
            "target_id": "sea" if i < 24 else None,
        }
        rows += [{**common, "flavouring_id": f, "dose_g_per_kg": 10.0} for f in ids]
    log = pd.DataFrame(rows)
    model = learn_shelf(shelf(), log)
    one = model.suggest(Brief(goal="likeness", target_id="sea", must_have=("clove",), bases=("oat",)), 1)[0]
    compared = log[(log["trial_id"].str[1:].astype(int) < 24) & (log["flavouring_id"] == "clove")]
    clove = next(reason for reason in one.reasons if reason.kind == "flavouring")
    assert str(clove).startswith("clove: gained")
    assert "points of likeness to sea" in str(clove)
    assert clove.cups == compared["trial_id"].nunique()
    assert any("the best known likeness to sea" in str(reason) for reason in one.reasons)
    liked = model.suggest(Brief(must_have=("clove",), bases=("oat",)), 1)[0].reasons
    assert any(str(reason).startswith("clove: lost") for reason in liked)
    assert {reason.target_id for reason in liked} == {None}
    assert "likeness" not in " ".join(map(str, liked))
