"""The cup in hand on the page, without a browser: one question after the other, everything saved."""

import re
from dataclasses import replace
from urllib.parse import parse_qs

import pandas as pd
import pytest
from tapping import asked, button, choose, events, finish, go_to_the_rest, pour, press, said_of, write

from pairing.bench import Bench
from pairing.model.flavouring import Flavouring
from pairing_dashboard.cup.draft import Draft, cup


@pytest.fixture
def at(app):
    return app("one", "bench")


def test_a_cup_from_first_pour_to_the_log(at):
    pour(at)
    finish(at)
    log = Bench.open(at.bench_path).tables("readings")
    new = log[log["trial_id"] != "t1"]
    assert new[["base_id", "flavouring_id", "strength", "liking", "ended", "taster"]].values.tolist() == [
        ["oat", "plum", 3.0, 8.0, "right", "me"]
    ]
    assert new["dose_g_per_kg"].iloc[0] > 0
    tallies = [h.proto.body for h in at.get("html") if "Swallowed today" in h.proto.body]
    assert 'data-of="Drink">15 g</td>' in tallies[0]
    assert Bench.open(at.bench_path).list_drafts() == []
    links = {it.proto.label: it.proto.query_string for it in at.get("page_link")}
    glass = parse_qs(links["Pour a whole glass"])["recipe"][0]
    assert float(glass.partition("=")[2]) < 0.95 * new["dose_g_per_kg"].iloc[0]
    press(at, "Undo: take it out")
    assert list(Bench.open(at.bench_path).tables("readings")["trial_id"]) == ["t1"]
    assert "Anything else?" in asked(at)
    at.text_area[0].set_value("a little thin").run()
    next(p for p in at.pills if p.label.startswith("How much of it did you drink?")).set_value("full").run()
    press(at, "Save")
    tallies = [h.proto.body for h in at.get("html") if "Swallowed today" in h.proto.body]
    assert 'data-of="Drink">250 g</td>' in tallies[0]  # who drank the whole glass swallowed more than the sips
    again = Bench.open(at.bench_path).tables("readings")
    assert again.loc[again["trial_id"] != "t1", ["strength", "liking", "note"]].values.tolist() == [
        [3.0, 8.0, "a little thin"]
    ]


def test_what_was_said_is_there_again_when_the_cup_is_taken_out_of_the_log(at):
    pour(at)
    go_to_the_rest(at)
    next(p for p in at.pills if p.label == "Off-notes").set_value(["soapy"]).run()
    next(p for p in at.pills if p.label == "How much soapy?").set_value(3).run()
    next(p for p in at.pills if p.label.startswith("How sweet is it?")).set_value(4).run()
    rows = len(at.pills)
    write(at, "Another off-note", "papery")
    assert len(at.pills) == rows  # Save has not moved away from under the finger
    at.text_area[0].set_value("a little thin").run()
    press(at, "Save")
    for _ in range(2):
        log = Bench.open(at.bench_path).tables("readings")
        new = log.loc[log["trial_id"] != "t1", ["liking", "off_notes", "attributes", "note"]]
        assert new.values.tolist() == [[8.0, "soapy:3;papery:2", "sweetness:4", "a little thin"]]
        press(at, "Undo: take it out")
        press(at, "Save")


def test_how_warm_it_is_drunk_and_what_stays_are_one_tap_each(at):
    pour(at)
    said_of(at, "How is it drunk?").set_value("fridge").run()
    go_to_the_rest(at)
    said_of(at, "A minute after the swallow, still there").set_value(["sweet", "nothing"]).run()
    said_of(at, "How much of it did you drink? A whole glass tells whether to keep it").set_value("full").run()
    press(at, "Save")
    log = Bench.open(at.bench_path).tables("readings")
    new = log.loc[log["trial_id"] != "t1", ["temperature_c", "off_notes", "glass"]]
    assert new.values.tolist() == [[6.0, "sweet:2@aftertaste", "full"]]


def test_an_off_note_can_be_fixed_with_what_covers_it(at):
    cocoa = {"flavouring_id": "cocoa", "name": "Dark cocoa", "label_dose": "5 g/kg", "food_use": "yes"}
    Bench.open(at.bench_path).load(flavourings=pd.DataFrame([cocoa]))
    pour(at)
    go_to_the_rest(at)
    write(at, "Another off-note", "beany")
    press(at, "Save")
    press(at, "Fix this: beany")
    told = " ".join(m.value for m in at.markdown)
    assert "Dark cocoa" in told
    assert "beany is expected in" in told
    press(at, "Start")
    assert "cocoa" in at.query_params["recipe"]


def test_every_tap_is_kept_on_the_bench(at):
    pour(at)
    press(at, "I poured")
    kept = Bench.open(at.bench_path).list_drafts()
    assert len(kept) == 1
    events = Bench.open(at.bench_path).load_draft(kept[0]["draft_id"])["events"]
    assert [e["kind"] for e in events] == ["base", "plan", "pour"]


def test_undo_goes_one_question_back(at):
    pour(at)
    press(at, "I poured")
    assert "Add" in asked(at)
    press(at, "Undo")
    assert "How much is in the cup?" in asked(at)


def test_another_window_that_is_behind_is_told_so(app, at, monkeypatch):
    from browsing import APP
    from streamlit.testing.v1 import AppTest

    pour(at)
    cup = at.query_params["cup"]
    other = AppTest.from_file(str(APP), default_timeout=60)
    other.query_params["cup"] = cup
    other.switch_page("views/bench.py").run()
    assert "How much is in the cup?" in asked(other)
    press(at, "I poured")
    press(other, "I poured")
    assert "moved on in another window" in other.success[0].value
    events = Bench.open(at.bench_path).load_draft(cup[0] if isinstance(cup, list) else cup)["events"]
    assert [e["kind"] for e in events].count("pour") == 1


def test_what_a_taster_must_avoid_stops_the_pour(app):
    at = app("one", "bench")
    bench = Bench.open(at.bench_path)
    bench.correct("bases", "oat", {"allergens": "oats"})
    bench.load(tasters=pd.DataFrame([{"taster": "ana", "avoid_allergens": "oats"}]))
    at.run()
    pour(at, ("ana", "me"))
    assert "Not for **ana**" in at.error[0].value
    assert button(at, "I poured").disabled
    press(at, "ana does not taste")
    assert not button(at, "I poured").disabled


def test_a_stop_is_asked_about_before_it_is_poured(app):
    at = app("one", "bench")
    bench = Bench.open(at.bench_path)
    bench.correct("flavourings", "plum", {"caffeine_mg_per_g": 1000})
    at.run()
    pour(at)
    assert "**Stop:**" in at.error[0].value
    assert "200 mg" in at.error[0].value
    assert button(at, "I poured").disabled
    next(box for box in at.checkbox if "poured all the same" in box.label).check().run()
    assert not button(at, "I poured").disabled


def test_an_impossible_sip_is_refused_and_nothing_is_lost(at):
    pour(at)
    write(at, "Grams of base", "10")
    press(at, "I poured")
    press(at, "I added it")
    said_of(at, "Strength").set_value(2).run()
    assert "sip" in at.error[0].value
    assert "How strong" in asked(at)


@pytest.mark.parametrize("text", ["25000", "0.2", "1,500", "much", ""])
def test_grams_of_base_that_cannot_be_are_refused(at, text):
    pour(at)
    write(at, "Grams of base", text)
    press(at, "I poured")
    assert at.error[0].value
    assert "How much is in the cup?" in asked(at)


def test_a_sip_is_read_with_a_comma_and_the_same_word_can_be_said_again(at):
    pour(at)
    press(at, "I poured")
    press(at, "I added it")
    write(at, "Sip in g", "a lot")
    said_of(at, "Strength").set_value(2).run()
    assert "is not a number" in at.error[0].value
    write(at, "Sip in g", "12,5")
    said_of(at, "Strength").set_value(2).run()
    assert events(at)[-1]["g"] == 12.5


def test_a_spoiled_cup_is_logged_without_questions(at):
    pour(at)
    press(at, "I poured")
    press(at, "I added it")
    said_of(at, "Strength").set_value(4).run()
    press(at, "Spoiled")
    log = Bench.open(at.bench_path).tables("readings")
    assert log[log["trial_id"] != "t1"]["ended"].tolist() == ["spoiled"]


def test_a_base_from_a_plugin_is_put_on_the_shelf(at):
    press(at, "A new cup")
    next(s for s in at.selectbox if s.label == "Base from a plugin").set_value("plain-bases:water").run()
    assert not at.exception
    assert "What will go in?" in asked(at)
    assert "plain-bases:water" in Bench.open(at.bench_path).shelf().bases


def test_what_to_mind_is_said_before_the_pour(app):
    at = app("one", "bench")
    Bench.open(at.bench_path).correct("bases", "oat", {"allergens": "gluten"})
    at.run()
    pour(at)
    assert any("Contains gluten (Oat drink)" in w.value.replace("\\", "") for w in at.warning)


def test_a_pre_dilution_is_put_on_the_shelf(app):
    """What is too strong to be weighed is offered as a flavouring of its own."""
    at = app("one", "bench")
    bench = Bench.open(at.bench_path)
    bench.keep(Flavouring(flavouring_id="clove", name="Clove oil", label_dose_g_per_kg=0.02, food_use="yes"))
    at.run()
    press(at, "A new cup")
    choose(at, "oat")
    at.pills[0].set_value(["clove"]).run()
    press(at, "Next")
    press(at, "I poured")
    assert "of Clove oil, 1 in 100 of" in asked(at)
    press(at, "Keep Clove oil, 1 in 10")
    assert [f for f in bench.shelf().flavourings if f.startswith("clove-1in")]
    assert any("is on the shelf now" in s.value for s in at.success)
    assert not any(b.label.startswith("Keep Clove oil") for b in at.button)


def test_a_cup_held_against_a_target_is_asked_how_like_it_is(app):
    at = app("one", "bench")
    Bench.open(at.bench_path).load(targets=pd.DataFrame([{"target_id": "cake", "name": "Cardamom cake"}]))
    at.run()
    press(at, "A new cup")
    choose(at, "oat")
    at.pills[0].set_value(["plum"]).run()
    press(at, "Next")
    write(at, "Someone else", "pia")
    next(p for p in at.pills if p.label == "Target").set_value("cake").run()
    assert next(t for t in at.text_input if t.label == "Someone else").value == "pia"
    write(at, "Someone else", "")
    assert any("Held against Cardamom cake" in h.proto.body for h in at.get("html"))
    go_to_the_rest(at)
    next(p for p in at.pills if "like the target" in p.label).set_value(6).run()
    press(at, "Nothing else, save")
    log = Bench.open(at.bench_path).tables("readings")
    assert log.loc[log["trial_id"] != "t1", ["target_id", "likeness"]].values.tolist() == [["cake", 6.0]]


def test_the_energy_added_is_that_of_what_went_in(app):
    """Sips take some of it out again, and base that thins it brings none."""
    from pairing_dashboard.cup.page import added_kcal

    bench = Bench.open(app("one", "bench").bench_path)
    bench.correct("flavourings", "plum", {"energy_kcal_per_g": 4.0})
    draft = Draft("t9").add("base", base_id="oat").add("plan", flavouring_ids=["plum"], closed=True)
    draft = draft.add("tasters", tasters=["me"]).add("pour", g=100.0)
    for _ in range(2):
        draft = draft.add("add", flavouring_id="plum", amount=5.0, unit="g", as_advised=False)
        draft = draft.add("read", taster="me", g=40.0, strength={"plum": 2})
    made = cup(draft.add("dilute", g=44.169), bench.shelf())
    assert added_kcal(made, bench.shelf(), "EU") == pytest.approx(40)


def test_the_base_is_shown_in_grams_that_a_scale_shows(at):
    pour(at)
    write(at, "Grams of base", "544.169")
    press(at, "I poured")
    assert any(" 544 g</strong>" in h.proto.body for h in at.get("html"))


def test_unfinished_cups_can_be_told_apart(at):
    pour(at)
    press(at, "I poured")
    del at.query_params["cup"]
    at.run()
    (label,) = [
        link.proto.label.replace("\\", "") for link in at.get("page_link") if link.proto.label.startswith("Go on with")
    ]
    assert re.fullmatch(r"Go on with Oat drink with Plum drops: 250 g, for me, begun \d\d:\S*\d\d", label)


def test_a_tap_that_came_twice_is_no_other_window(at, monkeypatch):
    from pairing_dashboard.cup import page

    pour(at)
    press(at, "I poured")
    bench = Bench.open(at.bench_path)
    kept = Draft.of(bench.load_draft(bench.list_drafts()[0]["draft_id"]))
    before = replace(kept, events=kept.events[:-1], version=kept.version - 1)
    told = []
    monkeypatch.setattr(page.parts, "remember", told.append)
    monkeypatch.setattr(page.st, "session_state", {page.TAPPED: kept})
    page._tap(bench, before, "pour", g=250.0, tasters=["me"])
    assert told == []
    page._tap(bench, before, "pour", g=300.0, tasters=["me"])
    assert "another window" in told[0]
    assert bench.load_draft(kept.draft_id) == kept.as_dict()


def test_who_tasted_last_is_offered_for_the_next_cup(app):
    at = app("one", "bench")
    Bench.open(at.bench_path).load(tasters=pd.DataFrame([{"taster": "ana"}]))
    at.run()
    press(at, "A new cup")
    choose(at, "oat")
    press(at, "Taste it plain")
    assert said_of(at, "Tasters").value == ["me"]
    said_of(at, "Tasters").set_value([]).run()
    press(at, "I poured")
    assert "nobody tastes" in at.error[0].value


def test_nothing_is_told_before_the_word_and_the_gauge_after_it(at):
    pour(at)
    press(at, "I poured")
    told = " ".join(h.proto.body for h in at.get("html"))
    assert "is just right then" not in told
    assert 'class="gauge"' not in told
    press(at, "I added it")
    assert 'class="gauge"' not in " ".join(h.proto.body for h in at.get("html"))
    said_of(at, "Strength").set_value(1).run()
    told = next(h.proto.body for h in at.get("html") if 'class="gauge"' in h.proto.body)
    assert "much too weak" in told
    assert any("is just right then" in h.proto.body for h in at.get("html"))


def test_just_right_leads_on_and_can_be_taken_up_again(app):
    at = app("one", "bench")
    mint = {"flavouring_id": "mint", "name": "Mint drops", "label_dose": "3 drops per 100 ml", "food_use": "yes"}
    Bench.open(at.bench_path).load(flavourings=pd.DataFrame([mint]))
    at.run()
    press(at, "A new cup")
    choose(at, "oat")
    at.pills[0].set_value(["plum", "mint"]).run()
    for label in ("Next", "I poured", "I added it"):
        press(at, label)
    said_of(at, "Strength").set_value(3).run()
    assert "of Mint drops" in asked(at)
    press(at, "More Plum drops after all")
    assert "Plum drops" in asked(at)


def test_after_a_weak_word_nothing_says_that_it_is_enough(at):
    pour(at)
    for label in ("I poured", "I added it"):
        press(at, label)
    said_of(at, "Strength").set_value(1).run()
    assert "Stop" not in asked(at)
    assert not any(b.label.startswith("Done with") for b in at.button)


def test_the_end_is_offered_and_liking_never(at):
    pour(at)
    for label in ("I poured", "I added it"):
        press(at, label)
    said_of(at, "Strength").set_value(3).run()
    assert said_of(at, "Liking").value is None
    said_of(at, "Liking").set_value(6).run()
    assert said_of(at, "How did it end?").value == "right"


def test_a_logged_cup_says_what_it_changed(at):
    pour(at)
    finish(at)
    told = next(m.value.replace("\\", "") for m in at.markdown if "was expected" in m.value)
    assert "Plum drops in Oat drink: needs" in told
    assert any(it.proto.label == "What to try next" for it in at.get("page_link"))
    press(at, "Keep, correct or print it")
    assert button(at, "Keep it")


def test_a_cup_that_stands_counts_down(at):
    pour(at)
    for label in ("I poured", "I added it"):
        press(at, label)
    said_of(at, "Minutes").set_value(5).run()
    assert not at.exception
    assert "How strong" in asked(at)
    assert events(at)[-1]["kind"] == "stand"
