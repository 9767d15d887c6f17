"""Blind checks on their page: planned from what is known, answered cup by cup, told in names."""

import pandas as pd
from tapping import button, press

from pairing.bench import Bench
from pairing.blind.kept import begin, open_checks, resume
from pairing.blind.plan import plan
from pairing.model.recipe import Recipe


def html(at):
    return " ".join(h.proto.body for h in at.get("html"))


def test_a_blind_check_is_kept_after_every_answer(app):
    at = app("demo", "blind")
    for side in ("First side", "Second side"):
        next(m for m in at.multiselect if m.key == f"{side}-in").set_value(["cocoa"])
    at.run()
    next(n for n in at.text_input if n.key == "First side-oat-cocoa").set_value("20,0").run()
    button(at, "Plan it").click().run()
    assert not at.exception
    assert [e.value for e in at.error] == []
    bench = Bench.open(at.bench_path)
    (check_id,) = open_checks(bench)
    code = resume(bench, check_id).next_serving.codes[0]
    button(at, code).click().run()
    assert len(resume(bench, check_id).answers) == 1


def test_a_side_is_a_kept_recipe_or_a_logged_cup_and_a_check_can_be_put_away(app):
    at = app("one", "blind")
    bench = Bench.open(at.bench_path)
    bench.keep(Recipe("oat", {"plum": 1.5}), name="dusk")
    at.run()
    for side, chosen in (("First", "dusk@1"), ("Second", ": Plum drops in Oat drink")):
        box = next(s for s in at.selectbox if s.key == f"{side} side-from")
        box.set_value(next(o for o in box.options if chosen in o)).run()
    assert "It stops as soon as the answer is clear" in html(at)  # how long it takes is said before it is planned
    press(at, "Plan it")
    (check_id,) = open_checks(bench)
    check = resume(bench, check_id)
    assert (dict(check.a.doses), dict(check.b.doses)) == ({"plum": 1.5}, {"plum": 1.0})
    press(at, "Put it away for good")
    assert open_checks(bench) == ()


def test_what_a_check_found_is_told_in_names(app):
    at = app("one", "blind")
    bench = Bench.open(at.bench_path)
    begin(bench, plan("oat|plum=2", "oat|plum=1", servings=5, alone=True, random_state=0))
    at.run()
    while checks := open_checks(bench):
        serving = resume(bench, checks[0]).next_serving
        press(at, serving.codes[serving.contents.index("a")])
    assert "Plum drops 2 g/kg in Oat drink tastes stronger than Plum drops 1 g/kg" in at.success[0].value.replace(
        "\\", ""
    )


def test_a_finished_check_is_told_in_names(app):
    at = app("one", "blind")
    row = {
        "check_id": "c1",
        "serving": 1,
        "taster": "ana",
        "question": "stronger",
        "right": "oat|plum=1",
        "answer": "left",
    }
    Bench.open(at.bench_path).load(comparisons=pd.DataFrame([{**row, "left": "oat|plum=2"}]))
    at.run()
    assert "Plum drops 2 g/kg in Oat drink" in html(at)
    assert "oat|plum" not in html(at)
