import pandas as pd
import pytest

from pairing import Bench
from pairing.blind.kept import DRAFTS, begin, finish, keep, open_checks, resume, summary
from pairing.blind.plan import plan
from pairing.blind.result import evidence
from pairing.errors import ConflictError, LogError, UnknownIdError
from pairing.model.recipe import Recipe


@pytest.fixture
def bench(tmp_path):
    made = Bench.create(tmp_path / "kitchen")
    made.load(
        bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"], "allergens": ["gluten"]}),
        flavourings=pd.DataFrame(
            {
                **{"flavouring_id": ["plum"], "name": ["Plum drops"], "label_dose_g_per_kg": [1.0]},
                **{"allergens": ["none"], "food_use": ["yes"]},
            }
        ),
        tasters=pd.DataFrame({"taster": ["ana", "ben"], "avoid_allergens": ["gluten", "none"]}),
    )
    return made


def _plan(**changes):
    return plan("oat|plum=2", "oat|plum=1", random_state=0, **changes)


def _all(check, letter="a"):
    while not check.finished:
        serving = check.next_serving
        check = check.answer(serving.codes[serving.contents.index(letter)], at="2024-05-01T18:00:00")
    return check


def test_a_check_stopped_half_way_is_kept_and_counts_for_nothing(bench):
    check = _plan(check_id="c1")
    begin(bench, check)
    serving = check.next_serving
    keep(bench, check.answer(serving.codes[0]))
    again = resume(Bench.open(bench.place), "c1")
    assert len(again.answers) == 1
    assert again.next_serving.number == 2
    assert bench.tables("comparisons").empty
    with pytest.raises(LogError, match="not finished"):
        finish(bench, again)
    assert open_checks(bench) == ("c1",)


def test_a_finished_check_goes_into_the_comparisons_once(bench):
    check = _plan(check_id="c1")
    begin(bench, check)
    done = _all(check)
    keep(bench, done)
    found = finish(bench, done)
    assert found.shown
    assert open_checks(bench) == ()
    rows = bench.tables("comparisons")
    assert len(rows) == found.n
    assert set(rows["question"]) == {"stronger"}
    revision = bench.revision
    finish(bench, done)
    assert bench.revision == revision
    with pytest.raises(LogError, match="a check 'c1' already"):
        begin(bench, check)


def test_two_hands_on_one_check_do_not_undo_each_other(bench):
    check = _plan(check_id="c1")
    begin(bench, check)
    first, second = check.next_serving.codes
    keep(bench, check.answer(first))
    with pytest.raises(ConflictError, match="check c1 has 1 answers now"):
        keep(bench, check.answer(second))
    assert resume(bench, "c1").answers[0].code == first
    keep(bench, resume(bench, "c1").take_back())
    assert resume(bench, "c1").answers == ()
    with pytest.raises(UnknownIdError, match="no open check 'c9'"):
        keep(bench, _plan(check_id="c9"))


def test_what_a_taster_must_avoid_is_refused_without_naming_the_side(bench):
    with pytest.raises(LogError, match=r"ana must not taste this: .*gluten"):
        begin(bench, _plan(taster="ana"))
    begin(bench, _plan(taster="ben"))
    begin(bench, _plan(taster="a guest", check_id="c2"))


def test_resuming_names_what_is_open(bench):
    with pytest.raises(LogError, match="no checks are open — plan one first"):
        resume(bench)
    begin(bench, _plan(check_id="first"))
    assert resume(bench).check_id == "first"
    begin(bench, _plan(check_id="second"))
    with pytest.raises(LogError, match="2 checks are open — name one of: "):
        resume(bench)
    with pytest.raises(UnknownIdError, match="no open check 'frist' — did you mean first"):
        resume(bench, "frist")


def test_cups_in_hand_are_not_taken_for_checks(bench):
    bench.save_draft("a-cup", {"step": 1})
    begin(bench, _plan(check_id="c1"))
    assert open_checks(bench) == ("c1",)
    assert bench.load_draft(DRAFTS + "c1")["check_id"] == "c1"


def test_the_learning_takes_a_finished_check_in(bench):
    before = bench.learn(random_state=0)
    for name in ("c1", "c2", "c3"):
        check = plan("oat|plum=1", "oat|", question="prefer", servings=12, random_state=1, check_id=name)
        begin(bench, check)
        finish(bench, _all(check))
    after = bench.learn(random_state=0)
    pair = [Recipe("oat", {"plum": 1.0}), Recipe("oat")]

    def lead(model):
        liking = model.predict(pair)["liking"]
        return liking.iloc[0] - liking.iloc[1]

    assert lead(after) > lead(before) + 0.2


def test_every_method_can_be_kept_and_learned_beside(bench):
    asked = [("paired", "closer"), ("3-afc", "stronger"), ("triangle", "odd"), ("duo-trio", "odd")]
    for method, question in asked:
        check = _plan(method=method, question=question, servings=8, target="cake", check_id=f"{method} {question}")
        begin(bench, check)
        while not check.finished:
            serving = check.next_serving
            check = check.answer(serving.codes[serving.contents.index(serving.right)])
        finish(bench, check)
    rows = bench.tables("comparisons")
    table = summary(rows)
    assert table["check_id"].tolist() == [f"{method} {question}" for method, question in asked]
    assert table["picked_a"].tolist() == table["n"].tolist() == [8] * 4
    assert table["p_value"].tolist() == pytest.approx([2 / 2**8, 1 / 3**8, 1 / 3**8, 1 / 2**8])
    for side in (1.0, 2.0):
        lines = evidence(rows, Recipe("oat", {"plum": side}))
        assert sum("8 of 8 right" in line for line in lines) == 3
    assert len(bench.learn(random_state=0).needed_dose()) == 1


def test_summary_counts_the_side_picked_more_often(bench):
    for name, letter in (("c1", "a"), ("c2", "b")):
        check = _plan(check_id=name, servings=6)
        begin(bench, check)
        finish(bench, _all(check, letter))
    table = summary(bench.tables("comparisons")).set_index("check_id")
    assert table.loc["c1", ["a", "b", "picked_a", "n"]].tolist() == ["oat|plum=2.0", "oat|plum=1.0", 6, 6]
    assert table.loc["c2", "a"] == "oat|plum=1.0"
    assert table.loc["c1", "p_value"] == pytest.approx(2 / 64)
