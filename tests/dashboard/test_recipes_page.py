"""Recipes that are kept, without a browser: the versions of one, what changed, and what can be done with each."""

from tapping import press

from pairing.bench import Bench
from pairing.model.recipe import parse_recipe_text


def told(at):
    return " ".join([*(m.value for m in at.markdown), *(h.proto.body for h in at.get("html"))]).replace("\\", "")


def test_versions_say_what_changed_and_why_and_are_held_side_by_side(app):
    at = app("one", "recipes")
    assert "No recipe is kept yet" in told(at)
    bench = Bench.open(at.bench_path)
    bench.keep(parse_recipe_text("oat|plum=1"), name="dusk")
    bench.keep(parse_recipe_text("oat|plum=1.6"), name="dusk", status="trying", note="a little flat")
    at.run()
    said = told(at)
    assert said.index("Version 2") < said.index("Version 1")
    assert "Changed: Plum drops 1 to 1.6 g/kg." in said
    assert "To 250 g: 11 drops (0.39 g) Plum drops." in said
    assert "Why: a little flat" in said
    assert "1 cup" in said  # what the log says of the first
    for name in ("dusk@1", "dusk@2"):
        at.checkbox(key=f"side-{name}").check().run()
    assert not at.exception
    assert 'class="sides"' in told(at)
    assert "<h3>dusk@1</h3>" in told(at)
    press(at, "Taste it again")
    assert "plum=1.6" in at.query_params["recipe"]


def test_status_and_note_of_a_version_are_corrected_on_the_page_and_make_no_new_one(app):
    at = app("one", "recipes")
    bench = Bench.open(at.bench_path)
    bench.keep(parse_recipe_text("oat|plum=1"), name="dusk", status="trying", note="a little flat")
    at.run()
    at.pills[0].set_value("retired")
    at.text_input[0].set_value("too sweet by June")
    press(at, "Save")
    assert not at.exception
    assert "is saved" in at.success[0].value
    rows = bench.tables("recipes")
    assert rows[["version", "status", "note"]].to_dict("records") == [
        {"version": 1, "status": "retired", "note": "too sweet by June"}
    ]
    assert "Why: too sweet by June" in told(at)


def test_a_status_that_another_window_has_corrected_is_not_written_over(app):
    at = app("one", "recipes")
    bench = Bench.open(at.bench_path)
    bench.keep(parse_recipe_text("oat|plum=1"), name="dusk", status="trying")
    at.run()
    bench.correct("recipes", ("dusk", 1), {"status": "kept"})
    at.pills[0].set_value("retired")
    press(at, "Save")
    assert "was changed in revision" in " ".join(it.value for it in at.error)
    assert bench.tables("recipes")["status"].tolist() == ["kept"]
