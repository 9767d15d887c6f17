import json

import pandas as pd
import pytest

from pairing.blind.check import BlindCheck
from pairing.blind.plan import plan
from pairing.blind.result import comparisons, evidence, result
from pairing.errors import LogError
from pairing.model.recipe import Recipe


def _pick(check, letter):
    serving = check.next_serving
    return check.answer(serving.codes[serving.contents.index(letter)], serving.number)


@pytest.fixture
def check():
    return plan("oat|plum=2", "oat|plum=1", random_state=0, check_id="c1")


@pytest.fixture
def fixed():
    return plan("oat|plum=2", "oat|plum=1", servings=6, random_state=0, check_id="c2")


def test_clear_answers_end_it_early(check):
    while not check.finished:
        check = _pick(check, "a")
    assert len(check.answers) <= 8
    found = result(check)
    assert found.shown
    assert found.picked == "a"
    assert found.right == found.n == len(check.answers)
    assert found.p_value <= 0.05
    assert found.sentence.startswith("oat|plum=2.0 tastes stronger than oat|plum=1.0 (")
    with pytest.raises(LogError, match="finished after"):
        check.answer(check.servings[-1].codes[0])


def test_answers_against_the_expectation_end_it_as_not_shown(check):
    while not check.finished:
        check = _pick(check, "b")
    found = result(check)
    assert not found.shown
    assert found.picked is None
    assert "no proof of sameness" in found.sentence


def test_a_preference_may_go_to_either_side():
    check = plan("oat|plum=2", "oat|plum=1", question="prefer", random_state=0)
    while not check.finished:
        check = _pick(check, "b")
    found = result(check)
    assert found.picked == "b"
    assert found.sentence.startswith("oat|plum=1.0 is preferred to oat|plum=2.0")
    assert found.low < found.share + 1e-12


def test_half_a_check_is_never_judged_and_comes_back_as_it_was(check):
    for letter in "aab":
        check = _pick(check, letter)
    for judge in (result, comparisons):
        with pytest.raises(LogError, match="not finished: 3 of at most 60 servings done"):
            judge(check)
    resumed = BlindCheck.from_dict(json.loads(json.dumps(check.to_dict())))
    assert resumed == check
    assert resumed.next_serving.number == 4


def test_nothing_before_the_end_tells_who_was_right(check):
    right, wrong = _pick(check, "a"), _pick(check, "b")
    assert right.progress == wrong.progress


def test_a_code_entered_twice_is_named(fixed):
    first = fixed.servings[0].codes[0]
    fixed = fixed.answer(first)
    with pytest.raises(LogError, match=f"code {first} belongs to serving 1, which is answered already"):
        fixed.answer(first)
    with pytest.raises(LogError, match="serving 1 is answered already — serving 2 is next"):
        fixed.answer(first, 1)
    assert len(fixed.answers) == 1


def test_a_skipped_serving_is_named(fixed):
    with pytest.raises(LogError, match="serving 1 has no answer yet, serving 3 cannot come before it"):
        fixed.answer(fixed.servings[2].codes[0], 3)
    with pytest.raises(LogError, match="belongs to serving 2, serving 1 has no answer yet"):
        fixed.answer(fixed.servings[1].codes[0])
    with pytest.raises(LogError, match="there is no serving 7, they go from 1 to 6"):
        fixed.answer(fixed.servings[0].codes[0], 7)


def test_an_unknown_code_lists_the_right_ones(fixed):
    taken = {code for s in fixed.servings for code in s.codes}
    other = next(str(c) for c in range(100, 1000) if str(c) not in taken)
    with pytest.raises(LogError, match=f"no cup of session 1 has code {other} — serving 1 has the codes"):
        fixed.answer(other)
    with pytest.raises(LogError, match="'left' is no code"):
        fixed.answer("left")


def test_left_out_servings_need_a_reason_and_count_for_nothing(fixed):
    with pytest.raises(LogError, match="without a reason"):
        fixed.skip(note=" ")
    check = fixed.skip(1, note="spilled")
    while not check.finished:
        check = _pick(check, "a")
    found = result(check)
    assert (found.n, found.skipped) == (5, 1)
    assert comparisons(check)["serving"].tolist() == [2, 3, 4, 5, 6]


def test_ties_only_where_they_are_allowed(fixed):
    with pytest.raises(LogError, match="a tie is no answer"):
        fixed.answer("tie")
    check = plan("oat|plum=2", "oat|plum=1", servings=6, ties=True, random_state=0).answer("Tie")
    while not check.finished:
        check = _pick(check, "a")
    assert result(check).ties == 1
    assert result(check).n == 5
    assert comparisons(check)["answer"].tolist()[0] == "tie"


def test_all_servings_left_out_has_no_result(fixed):
    for serving in fixed.servings:
        fixed = fixed.skip(serving.number, note="interrupted")
    with pytest.raises(LogError, match="no serving has an answer"):
        result(fixed)


def test_a_sequential_check_that_runs_out_is_judged_by_its_stage():
    check = plan("oat|plum=2", "oat|plum=1", random_state=0)
    for letter in "aa":
        check = _pick(check, letter)
    while not check.finished:
        check = check.skip(note="interrupted")
    found = result(check)
    assert not found.shown
    assert 0.05 < found.p_value <= 1


def test_a_code_of_another_serving_has_no_content(fixed):
    with pytest.raises(LogError, match="no cup of serving 1 has code"):
        fixed.servings[0].content(fixed.servings[1].codes[0])


def test_take_back_corrects_a_slip(fixed):
    with pytest.raises(LogError, match="nothing has been answered"):
        fixed.take_back()
    assert _pick(fixed, "b").take_back() == fixed
    one = _pick(fixed, "a")
    assert _pick(one, "b").take_back() == one
    while not fixed.finished:
        fixed = _pick(fixed, "a")
    with pytest.raises(LogError, match="answers stand"):
        fixed.take_back()


def test_rows_say_what_stood_where(fixed):
    picks = "abbaab"
    for letter in picks:
        fixed = _pick(fixed, letter)
    rows = comparisons(fixed)
    for row, serving, letter in zip(rows.to_dict("records"), fixed.servings, picks, strict=True):
        assert {row["left"], row["right"]} == {"oat|plum=2.0", "oat|plum=1.0"}
        assert row["left"] == ("oat|plum=2.0" if serving.contents == "ab" else "oat|plum=1.0")
        assert row[row["answer"]] == ("oat|plum=2.0" if letter == "a" else "oat|plum=1.0")
    assert set(rows["question"]) == {"stronger"}


@pytest.mark.parametrize(
    ("method", "question", "kept_as"),
    [
        ("3-afc", "stronger", "strongest of three"),
        ("triangle", "odd", "odd one out"),
        ("duo-trio", "odd", "like the reference"),
    ],
)
def test_other_methods_end_and_are_kept(method, question, kept_as):
    check = plan("oat|plum=2", "oat|plum=1", method=method, question=question, servings=12, random_state=3)
    while not check.finished:
        serving = check.next_serving
        check = check.answer(serving.codes[serving.contents.index(serving.right)])
    found = result(check)
    assert found.shown
    assert found.right == 12
    rows = comparisons(check)
    assert set(rows["question"]) == {kept_as}
    assert set(rows["answer"]) == {"left"}


def test_the_odd_one_is_the_side_that_stands_once():
    check = plan("oat|plum=2", "oat|plum=1", method="triangle", question="odd", servings=12, random_state=3)
    for serving in check.servings:
        assert serving.contents.count(serving.right) == 1


@pytest.mark.parametrize("place", [0, 1])
@pytest.mark.parametrize(("question", "sequential"), [("stronger", True), ("prefer", True), ("stronger", False)])
def test_always_picking_the_same_place_shows_nothing(place, question, sequential):
    for seed in range(20):
        check = plan("oat|plum=2", "oat|plum=1", question=question, sequential=sequential, random_state=seed)
        while not check.finished:
            check = check.answer(check.next_serving.codes[place])
        assert not result(check).shown


def test_evidence_says_what_was_found(fixed):
    for letter in "aaaaab":
        fixed = _pick(fixed, letter)
    unknown = comparisons(fixed).assign(check_id="c1", question="asked by another version")
    (line,) = evidence(pd.concat([unknown, comparisons(fixed)]), Recipe("oat", {"plum": 2.2}))
    assert line.startswith(
        "blind check c2: tastes stronger than oat|plum=1.0 in 5 of 6 "
        "(p = 0.219, two-sided, as for a fixed number of servings)"
    )
    assert evidence(comparisons(fixed), Recipe("whey")) == ()
    d = result(fixed).d_prime
    assert f"; d′ = {d.value:.2f} ({d.low:.2f}–{d.high:.2f}, 95 %)" in result(fixed).sentence


def test_what_was_kept_wrongly_is_refused():
    with pytest.raises(LogError, match="no blind check"):
        BlindCheck.from_dict({"a": "oat|"})
