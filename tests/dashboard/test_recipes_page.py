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
    assert "Why: a little flat" in said
    assert "1 cup" in said  # what the log says of the first
    for name in ("dusk@1", "dusk@2"):
        at.checkbox(key=f"side-{name}").check().run()
    assert not at.exception
    assert 'class="sides"' in told(at)
    press(at, "Taste it again")
    assert "plum=1.6" in at.query_params["recipe"]
