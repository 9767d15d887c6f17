"""What the other views do, without a browser."""

import re
from dataclasses import replace

import pandas as pd
import pytest
from browsing import APP
from streamlit.testing.v1 import AppTest
from tapping import press

from pairing.bench import Bench
from pairing.host import trust
from pairing.model.recipe import Recipe
from pairing_dashboard.verdicts import keep, kept


def button(at, label):
    return next(b for b in at.button if b.label.startswith(label))


def starts(at):
    return [it.proto for it in at.get("page_link") if it.proto.label == "Start"]


def html(at):
    return " ".join(h.proto.body for h in at.get("html"))


def test_a_bench_that_may_be_read_only_says_so_on_every_page(app, monkeypatch):
    monkeypatch.setattr(Bench, "read_only", True)
    for view in ("next_cups", "shelf"):
        assert "nothing new is kept" in app("one", view).info[0].value


def test_three_questions_begin_a_bench(app):
    at = app("empty")
    for place, text in enumerate(("Oat drink", "Plum drops", "3 drops per 100 ml")):
        at.text_input[place].input(text)
    button(at, "Begin").click().run()
    assert not at.exception
    assert "on the shelf" in at.success[0].value
    shelf = Bench.open(at.bench_path).shelf()
    assert (list(shelf.bases), list(shelf.flavourings)) == (["oat-drink"], ["plum-drops"])
    assert [e.value for e in at.error] == []  # nothing can be suggested yet: it is asked, not called an error
    next(p for p in at.pills if p.label == "For food, by its label").set_value(["plum-drops"]).run()
    button(at, "These are for food").click().run()
    assert Bench.open(at.bench_path).shelf().flavourings["plum-drops"].suggestable
    assert "Plum drops" in html(at)
    assert not any(p.label == "For food, by its label" for p in at.pills)


def test_the_three_questions_take_what_the_label_says_of_food(app):
    at = app("empty")
    for place, text in enumerate(("Oat drink", "Plum drops", "3 drops per 100 ml")):
        at.text_input[place].input(text)
    next(c for c in at.checkbox if "for food" in c.label).check()
    button(at, "Begin").click().run()
    assert Bench.open(at.bench_path).shelf().flavourings["plum-drops"].food_use == "yes"


def test_a_new_flavouring_is_asked_for_by_name_first_and_for_a_choice_by_a_tap(app):
    at = app("one", "shelf")
    assert [t.label for t in at.text_input][:2] == ["Name, needed", "Label dose"]
    next(t for t in at.text_input if t.label == "Name, needed").input("Mint drops")
    next(t for t in at.text_input if t.label == "Label dose").input("4 g per 100 g")
    next(p for p in at.pills if p.label == "Food use").set_value("yes")
    button(at, "Put it on the shelf").click().run()
    assert not at.exception
    assert "its label is read as 4 g per 100 g of base = 38" in at.success[0].value.replace("\\", "")
    assert Bench.open(at.bench_path).shelf().flavourings["mint-drops"].food_use == "yes"


def test_an_unreadable_direction_is_refused_with_a_remedy(app):
    at = app("empty")
    for place, text in enumerate(("Oat drink", "Plum drops", "quite a bit")):
        at.text_input[place].input(text)
    button(at, "Begin").click().run()
    assert "quite a bit" in at.error[0].value
    assert "What to do" in at.error[0].value
    assert not Bench.open(at.bench_path).shelf().bases


def test_the_demo_fills_an_empty_bench(app):
    at = app("empty")
    button(at, "Fill the bench").click().run()
    assert not at.exception
    assert len(Bench.open(at.bench_path).shelf().bases) == 4
    assert starts(at)


def test_suggestions_keep_to_the_brief(app):
    at = app("demo")
    assert len(starts(at)) == 5
    next(n for n in at.text_input if n.label.startswith("Added energy")).set_value("9,5").run()
    energies = re.findall(r"\+([\d.]+) kcal", html(at))
    assert energies
    assert all(float(e) <= 9.5 for e in energies)
    next(n for n in at.text_input if n.label.startswith("Added energy")).set_value("little").run()
    assert "is not a number" in at.error[0].value


def test_a_brief_that_leaves_nothing_names_what_would_free_some(app):
    at = app("demo")
    next(n for n in at.text_input if n.label.startswith("Total energy")).set_value("0").run()
    assert "What to do" in at.error[0].value


@pytest.mark.parametrize("brief", ['{"target_id":[1]}', f'{{"serving_g":1{"0" * 400}}}', "[" * 3000])
def test_nonsense_in_an_address_is_no_fault(app, brief):
    at = app("one", query={"brief": brief})
    assert "In force" not in html(at)
    assert starts(at)


def test_what_an_address_asks_for_and_the_bench_has_not_is_said(app):
    at = app("one", query={"brief": '{"never":["plum","elder"],"tasters":["zed"],"target_id":"gone"}'})
    assert at.info[0].value == "Not on this bench, left out: zed, elder and gone."


def test_a_contradicting_brief_is_explained(app):
    at = app("demo")
    for label in ("Must have", "Never"):
        next(m for m in at.multiselect if m.label == label).set_value(["ginger"])
    at.run()
    assert "must_have and in never" in at.error[0].value.replace("\\", "")


def test_starting_a_suggestion_leads_to_the_bench_with_its_recipe(app):
    at = app("demo")
    press(at, "Start")
    bench = Bench.open(at.bench_path)
    (draft,) = bench.list_drafts()
    events = bench.load_draft(draft["draft_id"])["events"]
    assert [e["kind"] for e in events] == ["base", "plan"]
    assert events[0]["chosen_by"] == "suggested"
    assert events[1]["flavouring_ids"]


def test_a_cup_from_a_suggestion_is_for_whom_it_was_made_and_in_that_serving(app):
    at = app("demo", query={"brief": '{"tasters":["mikko"],"serving_g":321}'})
    press(at, "Start")
    assert next(p for p in at.pills if p.label == "Tasters").value == ["mikko"]
    assert next(t for t in at.text_input if t.label == "Grams of base").value == "321"


def test_faults_of_plugins_come_with_a_remedy(app):
    at = app("faulty", "plugins")
    said = " ".join(e.value.replace("\\", "") for e in at.error)
    assert "no-import" in said
    assert "nothing_of_that_name" in said.replace("\u2060", "")
    assert "What to do" in said
    assert "not-a-number" in said


def test_loading_plugins_again_shows_what_changed(app):
    at = app("one", "plugins")
    rule = """
from pairing.api import Rule, hookimpl
import numpy as np
PAIRING_API = (1, 0)
@hookimpl
def pairing_rules(settings):
    return [Rule(id="all-good", summary="Everything", source="from memory", acts_on="liking", prior_mean=0.2,
                 prior_sd=0.1, feature=lambda table: np.ones(len(table)), because=lambda recipe: "it is")]
"""
    (at.bench_path / "plugins" / "fresh.py").write_text(rule)
    button(at, "Load the plugins again").click().run()
    assert not at.exception
    said = " ".join(e.value.replace("\\", "") for e in at.error)
    assert "not trusted" in said
    assert "pairing plugins" in said
    assert "rule fresh:all-good" not in html(at)
    trust(at.bench_path)
    button(at, "Load the plugins again").click().run()
    assert not at.exception
    assert "rule fresh:all-good" in html(at)
    assert "not there" in html(at)


def test_the_map_tells_about_the_chosen_flavouring(app):
    at = app("demo", "pairings")
    next(s for s in at.selectbox if s.label == "Flavouring").set_value("cocoa").run()
    assert not at.exception
    assert "Tried together" in html(at)
    assert "Dark cocoa powder with " in html(at)
    assert "may stand in" in html(at)
    assert any(it.proto.label.startswith("Start this pair in") for it in at.get("page_link"))


def test_a_map_with_little_on_it_says_what_would_make_it_grow(app):
    assert "needs two flavourings" in app("one", "pairings").info[0].value
    at = app("one", "pairings")
    mint = {"flavouring_id": "mint", "name": "Mint drops", "label_dose": "3 drops per 100 ml", "food_use": "yes"}
    Bench.open(at.bench_path).load(flavourings=pd.DataFrame([mint]))
    at.run()
    assert "No cup held two flavourings yet" in at.info[0].value
    press(at, "Start this pair in Oat drink")
    (draft,) = Bench.open(at.bench_path).list_drafts()
    events = Bench.open(at.bench_path).load_draft(draft["draft_id"])["events"]
    assert set(events[1]["flavouring_ids"]) == {"plum", "mint"}


def test_a_dose_out_of_reach_is_called_so():
    from types import SimpleNamespace

    from pairing_dashboard.dose_views import said_dose

    row = SimpleNamespace(dose_g_per_kg=40.0, low=20.0, high=80.0, reachable=False, readings=4)
    assert said_dose(row) == "not reached at any sensible dose"
    row.reachable = True
    assert said_dose(row) == "40 g/kg (20–80)"


def test_a_shelf_correction_is_a_new_revision(app):
    at = app("one", "shelf")
    before = Bench.open(at.bench_path).revision
    next(s for s in at.selectbox if s.key == "choose-flavourings").set_value("plum").run()
    assert "of base = " in html(at)
    next(t for t in at.text_input if t.label == "Label dose").input("4 drops per 100 ml")
    button(at, "Save the correction").click().run()
    assert not at.exception
    bench = Bench.open(at.bench_path)
    assert bench.shelf().flavouring("plum").label_dose == "4 drops per 100 ml"
    assert bench.revision == before + 1


def test_a_refused_shelf_entry_says_why(app):
    at = app("one", "shelf")
    assert any(t.label == "Flavouring id, made from the name if empty" for t in at.text_input)
    next(t for t in at.text_input if t.label == "Name, needed").input("Mint drops")
    next(t for t in at.text_input if t.label == "Energy (kcal per g)").input("900")
    button(at, "Put it on the shelf").click().run()
    assert "900" in at.error[0].value
    assert "mint" not in Bench.open(at.bench_path).shelf().flavourings


def test_the_cards_open_on_a_recipe_at_hand(app):
    at = app("demo", "cards")
    assert at.header[0].value  # the first that is suggested
    Bench.open(at.bench_path).keep(Recipe("oat", {"quince": 1.5}), name="dusk")
    fresh = AppTest.from_file(str(APP), default_timeout=60).switch_page("views/cards.py").run()
    assert re.fullmatch("dusk@.?1: .*Quince drops", fresh.header[0].value)  # by the name that it was given
    there = app("demo", "cards", {"recipe": "oat|vanilla=2"})
    assert "Vanilla" in there.header[0].value


def test_a_card_of_a_recipe(app):
    at = app("demo", "cards")
    next(m for m in at.multiselect if m.label == "Flavourings").set_value(["cocoa"]).run()
    assert not at.exception
    assert at.header[0].value
    next(n for n in at.number_input if n.label == "Servings").set_value(0.0).run()
    assert "What to do" in at.error[0].value


@pytest.mark.parametrize("view", ["next_cups", "bench", "pairings", "doses", "shelf", "log", "cards"])
def test_names_are_shown_as_they_are_written(app, view):
    """A name with markup in it must not become markup."""
    at = app("one", view)
    bench = Bench.open(at.bench_path)
    bench.correct("flavourings", "plum", {"name": "![x](http://elsewhere.test/x.png) <img src=x> :red[x] $x$"})
    bench.load(tasters=pd.DataFrame([{"taster": "<b>ana</b>"}]))
    at.run()
    assert not at.exception
    for text in (e.value for kind in ("markdown", "subheader", "error", "success") for e in at.get(kind)):
        assert "![x](" not in text
        assert ":red[" not in text
    assert "<img src" not in html(at)


def test_kept_suggestions_are_those_that_were_made(bench_at):
    from pairing.model.brief import Brief
    from pairing_dashboard.kept_suggestions import keep, kept

    bench = Bench.open(bench_at("demo"))
    brief = Brief(max_added_kcal=20, avoid_allergens="milk;soy")
    found = bench.learn(random_state=0).suggest(brief, n=3, random_state=0)
    keep(bench, "now", brief, found)
    assert kept(bench, "now", brief) == found
    assert kept(bench, "later", brief) is None
    assert kept(bench, "now", Brief(max_added_kcal=21)) is None


def test_the_map_can_be_narrowed_to_a_group_and_to_what_goes_with_one(app):
    at = app("demo", "pairings")
    group = next(s for s in at.selectbox if s.label == "Group that goes together")
    assert group.options
    choice = next(s for s in at.selectbox if s.label == "Flavouring")
    everything = len(choice.options)
    group.set_value(group.options[0]).run()
    assert not at.exception
    assert 2 <= len(next(s for s in at.selectbox if s.label == "Flavouring").options) < everything


def test_a_suggestion_says_where_its_points_come_from(app):
    at = app("demo")
    next(t for t in at.toggle if (t.key or "").startswith("points-")).set_value(True).run()
    assert not at.exception
    assert "expected liking" in html(at)
    assert any("It leans most on these scores" in m.value for m in at.markdown)


def test_the_front_of_energy_against_liking(app):
    at = app("demo")
    next(t for t in at.toggle if t.key == "front").set_value(True).run()
    assert not at.exception
    assert "Added energy against expected liking" in html(at)


def test_it_is_judged_on_cups_that_it_did_not_see(app):
    at = app("demo", "quality")
    assert "New combinations: off by" in html(at)
    assert "Judged " in html(at)
    bench = Bench.open(at.bench_path)
    assert kept(bench).sentences
    bench.load(tasters=pd.DataFrame([{"taster": "zed"}]))
    old = replace(kept(bench), key="another", sentences=("an older verdict",))
    keep(bench, old)
    at.run()
    assert kept(bench).sentences != old.sentences  # renewed below what stood there
    assert "an older verdict" not in html(at)


def test_a_suggestion_for_likeness_takes_its_target_to_the_bench(app):
    at = app("demo")
    next(s for s in at.selectbox if s.label == "Like this target").set_value("clubhouse-cake").run()
    assert "of 10</span>" in html(at)
    press(at, "Start")
    bench = Bench.open(at.bench_path)
    (draft,) = bench.list_drafts()
    assert bench.load_draft(draft["draft_id"])["events"][0]["target_id"] == "clubhouse-cake"


def test_a_check_of_which_is_closer_needs_its_target(app):
    from pairing.blind.kept import open_checks, resume

    at = app("demo", "blind")
    next(m for m in at.multiselect if m.key == "First side-in").set_value(["cocoa"])
    next(p for p in at.pills if p.label == "Question").set_value("closer").run()
    button(at, "Plan it").click().run()
    assert "no target" in at.error[0].value
    next(s for s in at.selectbox if s.label.startswith("The target")).set_value("Cardamom cake of the clubhouse")
    button(at, "Plan it").click().run()
    bench = Bench.open(at.bench_path)
    (check_id,) = open_checks(bench)
    assert resume(bench, check_id).target == "Cardamom cake of the clubhouse"


def test_untried_pairs_show_what_they_are_sorted_by(app):
    at = app("demo", "pairings")
    assert "Possible gain, liking points" in html(at)


def test_the_axis_of_liking_begins_at_one(app, monkeypatch):

    from pairing_dashboard import charts

    drawn = []
    monkeypatch.setattr(charts.parts, "chart", lambda drawing, *_: drawn.append(drawing.to_dict()))
    shelf = Bench.open(app("one").bench_path).shelf()
    row = {"base_id": "oat", "flavouring_ids": ["plum"], "added_kcal": 1.0, "liking": 6.0}
    charts.front(pd.DataFrame([{**row, "liking_low": 5.0, "liking_high": 7.0}]), shelf)
    for layer in drawn[0]["layer"]:
        assert layer["encoding"]["y"]["scale"] == {"domain": [1, 9], "zero": False, "nice": False}
