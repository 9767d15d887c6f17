"""One check has one p-value, with the same words, on every screen."""

import pandas as pd
import pytest

from pairing import Bench
from pairing.blind.kept import begin, finish, finished, summary
from pairing.blind.plan import plan
from pairing.blind.pvalue import PValue
from pairing.blind.result import evidence
from pairing.cli import main
from pairing.discrimination.binomial import p_value
from pairing.model.recipe import Recipe


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "b")
    row = {
        "flavouring_id": "plum",
        "name": "Plum drops",
        "label_dose": "1 g/kg",
        "allergens": "none",
        "food_use": "yes",
    }
    bench.load(bases=pd.DataFrame([{"base_id": "oat", "name": "Oat"}]), flavourings=pd.DataFrame([row]))
    return bench


def done(bench, letters, **how):
    check = plan("oat|plum=2", "oat|plum=1", random_state=0, check_id="c1", **how)
    begin(bench, check)
    for letter in letters:
        serving = check.next_serving
        if serving is None:
            break
        check = check.answer(serving.codes[serving.contents.index(letter)])
    return finish(bench, check)


@pytest.mark.parametrize(
    ("letters", "how", "sides", "end"),
    [
        ("a" * 40, {}, "one-sided", "after a sequential stop"),
        ("b" * 40, {}, "one-sided", "after a sequential stop"),
        ("a" * 40, {"question": "prefer"}, "two-sided", "after a sequential stop"),
        ("bbbbaabbbb", {"question": "prefer", "servings": 10}, "two-sided", "a fixed number of servings"),
        ("aaaabbbbbb", {"servings": 10}, "one-sided", "a fixed number of servings"),
    ],
)
def test_every_screen_shows_the_same(bench, capsys, letters, how, sides, end):
    found = done(bench, letters, **how)
    said = f"p {'< 0.001' if found.p_value < 0.001 else f'= {found.p_value:.3f}'}, {sides}, {end}"
    assert said in found.sentence
    assert "95 %)" in found.sentence
    (row,) = summary(bench.tables("comparisons"), finished(bench)).to_dict("records")
    assert row["p_value"] == found.p_value
    picked = max(found.right, found.n - found.right) if sides == "two-sided" else found.right
    assert (row["picked_a"], row["n"]) == (picked, found.n)
    lines = evidence(bench.tables("comparisons"), Recipe("oat", {"plum": 2}), finished(bench))
    assert [said in line for line in lines] == [True]
    capsys.readouterr()
    assert main(["blind", "list", "--bench", str(bench.place)]) == 0
    listed = " ".join(capsys.readouterr().out.split())
    assert said.removeprefix("p ").removeprefix("= ").split(",", maxsplit=1)[0] in listed
    assert main(["card", "oat|plum=2", "--bench", str(bench.place)]) == 0


def test_a_check_that_came_as_a_table_says_how_it_is_counted(bench):
    """Computed: of 10 answers 8 for one side, exact binomial, two-sided: 2 × P(X ≥ 8) = 0.109."""
    rows = [("c9", i, "stronger", "oat|plum=2", "oat|", "left" if i <= 8 else "right") for i in range(1, 11)]
    frame = pd.DataFrame(rows, columns=["check_id", "serving", "question", "left", "right", "answer"])
    bench.load(comparisons=frame)
    (row,) = summary(bench.tables("comparisons"), finished(bench)).to_dict("records")
    assert row["p_value"] == pytest.approx(0.109375) == pytest.approx(p_value(8, 10, 0.5, two_sided=True))
    assert (
        PValue(row["p_value"], row["two_sided"], row["sequential"]).how
        == "two-sided, as for a fixed number of servings"
    )


def test_answers_that_were_corrected_are_counted_afresh(bench):
    done(bench, "aaaaaaaaab", servings=10)
    bench.correct("comparisons", ("c1", 1), {"answer": "tie"})
    (row,) = summary(bench.tables("comparisons"), finished(bench)).to_dict("records")
    assert (row["n"], row["ties"], row["sequential"]) == (9, 1, None)
