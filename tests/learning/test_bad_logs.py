"""Logs that hold too little, the same thing over and over, or nonsense: an answer or a clear error, and never NaN."""

import numpy as np
import pandas as pd
import pytest
from small_logs import BASES, FLAVOURINGS, cup, learn

import pairing
from pairing import Brief, Recipe
from pairing.errors import LogError, LogWarning, PairingError

B, F = ("oat", "milk"), ("quince", "rose")


def same(strength, liking, n=10):
    return [cup(b, {f: 2.0}, strength, liking) for b in B for f in F] * n


LOGS = {
    "empty": [],
    "one trial": [cup("oat", {"quince": 2.0}, 3, 7)],
    "one trial without strength": [cup("oat", {"quince": 2.0}, None, 7)],
    "one trial that says nothing": [cup("oat", {"quince": 2.0})],
    "plain cups only": [cup("oat", {}, None, 5)] * 5,
    "strengths only": same(3, None) + same(1, None),
    "likings only": [*same(None, 5), cup("oat", {"smoke": 0.5}, None, 9)],
    "everything the same": same(3, 5),
    "the best of all": same(3, 9),
    "never detected": same(0, 1),
    "always much too strong": same(5, 1),
    "the ends of the scale in turn": [cup("oat", {"quince": 2.0}, 3, 1), cup("oat", {"quince": 2.0}, 3, 9)] * 10,
    "doses of zero": [cup("oat", {"quince": 0.0}, 0, 5)] * 5,
    "a dose of zero beside another": [cup("oat", {"quince": 0.0, "rose": 4.0}, {"quince": 0, "rose": 3}, 5)] * 5,
    "an absurdly high dose": [cup("oat", {"quince": 900.0}, 3, 5), *[cup("oat", {"quince": 2.0}, 3, 7)] * 5],
    "an absurdly low dose": [cup("oat", {"quince": 1e-9}, 3, 5), *[cup("oat", {"quince": 2.0}, 3, 7)] * 5],
    "a cup of everything": [cup("oat", {"quince": 2.0, "clove": 1.0, "smoke": 0.5, "rose": 4.0}, 3, 5)],
    "two people who never met": [cup("oat", {"quince": 2.0}, 3, 5, "a"), cup("milk", {"rose": 2.0}, 1, 9, "b")],
    "forty people": [cup("oat", {"quince": 2.0}, 3, 5, f"p{i}") for i in range(40)],
    "likeness only": [cup("oat", {"quince": 2.0}, likeness=5.0, target_id="x")] * 3,
}


def answers(model):
    """Everything that is a number in what a person may ask."""
    shelf = model.shelf
    bases, ids = list(shelf.bases), list(shelf.flavourings)
    recipes = [
        Recipe(bases[0], {ids[0]: None}),
        Recipe(bases[-1], {ids[0]: 1.0, ids[-1]: None}),
        Recipe(bases[0], {}),
        Recipe(bases[0], {ids[-1]: 900.0}),
    ]
    for taster in (None, "me", "somebody new"):
        found = model.predict(recipes, taster)
        yield found
        assert found[["liking", "liking_low", "liking_high"]].stack().between(1, 9).all()
    yield model.needed_dose()
    yield model.needed_dose(alongside=[ids[1]])
    yield model.base_factor()
    yield model.synergy()
    yield model.synergy(bases[0])
    yield model.singles()
    yield model.affinity()
    yield model.explain(recipes[1])
    yield model.leans_on(recipes[0])
    yield pd.DataFrame({"liking": [s.liking for s in model.suggest(Brief(), n=2, random_state=0)]})


@pytest.mark.filterwarnings("ignore::pairing.errors.LogWarning")
@pytest.mark.parametrize("name", LOGS)
def test_every_answer_is_a_number(name):
    for table in answers(learn(*LOGS[name])):
        numbers = table.select_dtypes("number").to_numpy(float)
        assert np.isfinite(numbers).all(), table


@pytest.mark.filterwarnings("ignore::pairing.errors.LogWarning")
@pytest.mark.parametrize("name", [n for n in LOGS if not {c[0]["base_id"] for c in LOGS[n]} & {"milk"}])
def test_one_base(name):
    for table in answers(learn(*LOGS[name], bases=BASES.iloc[:1])):
        assert np.isfinite(table.select_dtypes("number").to_numpy(float)).all(), table


def test_one_base_and_one_flavouring():
    cups = [cup("oat", {"quince": d}, w, 5) for d, w in ((1, 1), (2, 3), (4, 5))]
    model = learn(*cups, bases=BASES[:1], flavourings=FLAVOURINGS[:1])
    assert 1.2 < model.needed_dose()["dose_g_per_kg"][0] < 3.3
    assert model.synergy().empty
    assert model.predict([Recipe("oat", {"quince": None})])["liking"].between(1, 9).all()


def test_a_shelf_of_nothing_is_refused():
    readings = pd.DataFrame({"trial_id": [], "base_id": [], "flavouring_id": [], "dose_g_per_kg": []})
    with pytest.raises(LogError, match="no base") as caught:
        pairing.learn(BASES.iloc[:0], FLAVOURINGS, readings)
    assert "load" in caught.value.hint


def test_a_flavouring_never_rated_is_wide_and_never_certain():
    model = learn(*same(3, 8))
    found = model.predict([Recipe("oat", {f: None}) for f in ("quince", "smoke")])
    assert found["liking_sd"][1] > 1.5 * found["liking_sd"][0]
    doses = model.needed_dose(["oat"]).set_index("flavouring_id")
    assert doses.loc["smoke", "log_sd"] > 1.3 * doses.loc["quince", "log_sd"]


def test_constant_scores_teach_no_differences():
    model = learn(*same(3, 5, n=20))
    pairs = model.synergy()
    assert not ((pairs["p_positive"] > 0.95) | (pairs["p_positive"] < 0.05)).any()
    found = model.predict([Recipe(b, {f: None}) for b in B for f in F])["liking"]
    assert found.std() < 0.2
    assert found.mean() == pytest.approx(5, abs=0.4)


@pytest.mark.parametrize(("dose", "word"), [(900.0, "900 g/kg"), (0.01, "0.01 g/kg")])
def test_an_absurd_dose_is_named_and_does_not_carry_the_rest_away(dose, word):
    good = [cup("oat", {"quince": 2.0}, 3, 7)] * 8
    sane = learn(*good)
    with pytest.warns(LogWarning, match=rf"'slip'.*{word}.*'quince'"):
        odd = learn(*good, cup("oat", {"quince": dose}, 3, 5, trial_id="slip"))
    doses = [m.needed_dose(["oat"], ["quince"])["dose_g_per_kg"][0] for m in (sane, odd)]
    assert abs(np.log(doses[1] / doses[0])) < 0.5


def test_many_absurd_doses_are_counted():
    with pytest.warns(LogWarning) as caught:
        learn(*[cup("oat", {"quince": 900.0}, 5, 1)] * 12)
    assert len(caught) == 6
    assert "7 more" in str(caught[-1].message)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"dose_g_per_kg": -1.0}, "-1"),
        ({"dose_g_per_kg": 1500.0}, "1500"),
        ({"liking": 11.0}, "11"),
        ({"strength": 7.0}, "7"),
        ({"base_id": "oats"}, "oats"),
        ({"flavouring_id": "quinze"}, "quinze"),
    ],
)
def test_nonsense_is_refused_with_its_value(change, word):
    row = [{**cup("oat", {"quince": 2.0}, 3, 7)[0], **change}]
    with pytest.raises(PairingError, match=word) as caught:
        learn(cup("oat", {"rose": 2.0}, 3, 7), row)
    assert caught.value.hint


def test_ten_thousand_flavourings():
    n = 10_000
    flavourings = pd.DataFrame({"flavouring_id": [f"f{i}" for i in range(n)], "name": "x", "label_dose_g_per_kg": 1.0})
    cups = [cup("oat", {f"f{i}": 1.0, f"f{i + 1}": 1.0}, 3, 1 + i % 9) for i in range(0, 200, 2)]
    model = learn(*cups, flavourings=flavourings)
    found = model.predict([Recipe("oat", {"f0": None}), Recipe("milk", {"f9999": None, "f5": 2.0})])
    assert np.isfinite(found.to_numpy()).all()
    assert np.isfinite(model.needed_dose(["oat"])["dose_g_per_kg"]).all()
    assert found["liking_sd"][1] > found["liking_sd"][0]


def test_pairs_of_ten_thousand_flavourings_are_those_that_were_logged_most():
    n = 10_000
    many = pd.DataFrame({"flavouring_id": [f"f{i}" for i in range(n)], "name": "x", "label_dose_g_per_kg": 1.0})
    cups = [cup("oat", {f"f{(i * 7) % n}": 1.0, f"f{n - 1 - i}": 1.0}, 3, liking=4 + i % 5) for i in range(30)]
    model = learn(*cups, flavourings=many)
    pairs = model.synergy()
    assert len(pairs) == 1000 * 999 // 2
    assert pairs["trials"].sum() == pairs["tested"].sum() == 30
    assert not pairs.duplicated(["flavouring_a", "flavouring_b"]).any()
    assert np.isfinite(pairs[["synergy", "sd", "p_positive"]].to_numpy()).all()


def test_pairs_left_out_are_counted(monkeypatch):
    cups = [cup("oat", {"rose": 1.0, "smoke": 1.0}, 3, liking=8), cup("oat", {"clove": 1.0}, 3, liking=5)]
    whole = learn(*cups)
    assert "pairs_left_out" not in whole.graph().graph
    monkeypatch.setattr("pairing.learning.synergy.MOST_IN_FULL", 2)
    graph = learn(*cups).graph()
    assert graph.number_of_nodes() == 4
    assert graph.graph["pairs_left_out"] == 6 - graph.number_of_edges() > 0
    assert graph.edges["rose", "smoke"]["synergy"] == pytest.approx(whole.graph().edges["rose", "smoke"]["synergy"])
