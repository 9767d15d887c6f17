"""A cup in hand: what has happened, what is asked next, and the way back."""

import json
from dataclasses import replace

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing_dashboard.cup import fresh
from pairing_dashboard.cup.draft import Draft, cup, likely_end, overridden, state

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat drink")],
    [
        Flavouring(flavouring_id=i, name=i, label_dose_g_per_kg=1.0, drop_mg=25, food_use="yes")
        for i in ("plum", "mint")
    ],
)


def poured(tasters=("ana",), flavourings=("plum",)):
    draft = Draft("t1").add("base", base_id="oat").add("plan", flavouring_ids=list(flavourings), closed=True)
    return draft.add("tasters", tasters=list(tasters)).add("pour", g=400.0)


def said(draft, word, taster="ana", which="plum"):
    return draft.add("read", taster=taster, g=15.0, strength={which: word})


def added(draft, drops, which="plum"):
    return draft.add("add", flavouring_id=which, amount=drops, unit="drops", as_advised=True)


def finished(draft, taster="ana", liking=7):
    draft = draft.add("liking", taster=taster, value=liking)
    return draft.add("rest", taster=taster, likeness=None, off_notes={"bitter": 1}, note="")


def test_the_questions_come_one_after_the_other():
    draft, asked = Draft("t1"), []
    for kind, facts in (
        ("base", {"base_id": "oat"}),
        ("plan", {"flavouring_ids": ["plum"], "closed": True}),
        ("tasters", {"tasters": ["ana"]}),
        ("pour", {"g": 400.0}),
        ("add", {"flavouring_id": "plum", "amount": 8, "unit": "drops"}),
        ("read", {"taster": "ana", "g": 15.0, "strength": {"plum": 3}}),
        ("settle", {"flavouring_id": "plum"}),
        ("liking", {"taster": "ana", "value": 7}),
        ("rest", {"taster": "ana", "likeness": None, "off_notes": {}, "note": "", "ended": "right"}),
    ):
        asked.append(state(draft).question)
        draft = draft.add(kind, **facts)
    assert asked == ["base", "flavourings", "pour", "pour", "add", "sip", "add", "liking", "rest"]
    assert state(draft).question == "done"


def test_flavourings_are_stepped_one_after_the_other():
    draft = said(added(poured(flavourings=("plum", "mint")), 4), 3)
    assert state(draft).current == "plum"
    draft = draft.add("settle", flavouring_id="plum")
    assert (state(draft).question, state(draft).current) == ("add", "mint")


def test_undo_takes_back_one_answer_and_keeps_the_record():
    draft = added(poured(), 8)
    back = draft.undo()
    assert state(back) == state(poured())
    assert [e["kind"] for e in back.events] == [*(e["kind"] for e in draft.events), "undo"]
    assert not back.undo().undo().undo().undo().live


def test_undo_of_nothing_adds_nothing():
    assert Draft("t1").undo() == Draft("t1")


def test_it_comes_back_from_text_unchanged():
    draft = finished(said(added(poured(), 8), 3).add("end", ended="right"))
    again = Draft.of(json.loads(json.dumps(draft.as_dict())))
    assert again == draft
    assert cup(again, SHELF) == cup(draft, SHELF)


def test_the_cup_counts_additions_and_sips():
    made = cup(said(added(said(added(poured(), 4), 2), 3), 3), SHELF)
    before = 0.1 / 400.1 * (400.1 - 15)  # g left of 4 drops after a sip
    assert made.trial_id == "t1"
    assert made.dose_g_per_kg["plum"] == pytest.approx((before + 0.075) / (385.1 + 0.075) * 1000)
    assert [r.strength["plum"] for r in made.readings] == [2, 3]
    assert [r.stepped for r in made.readings] == ["no", "yes"]


def test_what_is_said_at_the_end_goes_into_the_last_reading():
    draft = said(added(said(added(poured(), 4), 2), 3), 3).add("settle", flavouring_id="plum")
    first, last = cup(finished(draft.add("end", ended="right")), SHELF).readings
    assert (first.liking, last.liking) == (None, 7)
    assert last.off_notes == "bitter:1"


def test_what_stays_after_the_swallow_and_how_warm_it_was_go_into_the_reading():
    draft = poured(flavourings=()).add("liking", taster="me", value=7)
    asked = {"likeness": None, "off_notes": {"soapy": 1}, "attributes": {}, "note": "", "ended": "right"}
    for after, cell in (
        (["sweet", "drying"], "soapy:1;sweet:2@aftertaste;drying:2@aftertaste"),
        (["nothing"], "soapy:1;none@aftertaste"),
        ([], "soapy:1"),
    ):
        made = cup(draft.add("rest", taster="me", after=after, **asked), SHELF)
        assert made.readings[0].off_notes == cell
    cold = replace(draft, events=tuple({**e, "temperature_c": 6.0} if e["kind"] == "pour" else e for e in draft.events))
    assert cup(cold, SHELF).readings[0].temperature_c == 6


def test_a_second_taster_takes_a_sip_to_judge():
    draft = said(added(poured(("ana", "bo")), 8), 3).add("settle", flavouring_id="plum").add("end", ended="right")
    draft = finished(draft)
    assert (state(draft).question, state(draft).taster) == ("liking", "bo")
    made = cup(finished(draft, "bo", 4), SHELF)
    assert {r.taster: r.liking for r in made.readings} == {"ana": 7, "bo": 4}
    assert sum(made.swallowed("bo").values()) == pytest.approx(15)


def test_a_plain_cup_needs_no_addition():
    draft = poured(flavourings=()).add("end", ended="right")
    made = cup(finished(draft), SHELF)
    assert (dict(made.dose_g_per_kg), made.readings[0].liking) == ({}, 7)


@pytest.mark.parametrize("ended", ["spoiled", "unfinished"])
def test_nobody_is_asked_about_a_lost_cup(ended):
    assert state(added(poured(), 4).add("end", ended=ended)).question == "done"


def test_something_taken_out_of_the_plan_is_not_asked_for():
    draft = poured(flavourings=("plum", "mint")).add("unplan", flavouring_id="plum")
    assert state(draft).current == "mint"


def test_base_added_to_thin_it_counts():
    made = cup(added(poured(), 8).add("dilute", g=100.0), SHELF)
    assert made.base_g == 500


def test_a_plan_stays_open_until_it_is_closed():
    draft = Draft("t1").add("base", base_id="oat").add("plan", flavouring_ids=["plum"], closed=False)
    assert (state(draft).question, state(draft).planned) == ("flavourings", ("plum",))
    assert state(draft.add("plan", flavouring_ids=["plum", "mint"], closed=True)).planned == ("plum", "mint")


def test_a_plan_that_closes_with_all_of_it_says_in_which_order():
    draft = Draft("t1").add("base", base_id="oat").add("plan", flavouring_ids=["plum"], closed=False)
    draft = draft.add("plan", flavouring_ids=["mint"], closed=False)
    assert state(draft.add("plan", flavouring_ids=["mint", "plum"], closed=True)).planned == ("mint", "plum")
    assert state(draft.add("plan", flavouring_ids=["mint"], closed=True)).planned == ("plum", "mint")


def test_mixing_asks_for_another_sip_of_the_same_dose():
    draft = said(added(poured(), 4), 2).add("mix")
    assert state(draft).question == "sip"
    first, second = cup(said(draft, 3), SHELF).readings
    assert first.dose_g_per_kg["plum"] == pytest.approx(second.dose_g_per_kg["plum"])
    assert second.mixing == "stirred"


def test_going_on_past_a_pause_counts_once_more_went_in():
    draft = said(added(poured(), 8), 1).add("override", flavouring_id="plum")
    assert overridden(draft) == ()
    more = added(draft, 8)
    assert overridden(more) == ("plum",)
    assert overridden(more.undo().undo()) == ()


def test_who_tastes_is_said_with_the_pour():
    draft = Draft("t1").add("base", base_id="oat").add("plan", flavouring_ids=["plum"], closed=True)
    now = state(draft.add("pour", g=200.0, tasters=["ana", "bo"]))
    assert (now.question, now.tasters, now.base_g) == ("add", ("ana", "bo"), 200.0)


def test_a_word_that_settles_leads_on_and_one_undo_takes_both_back():
    draft = added(poured(flavourings=("plum", "mint")), 4)
    on = draft.add("read", taster="ana", g=15.0, strength={"plum": 3}, settles=["plum"])
    assert (state(on).question, state(on).current, state(on).settled) == ("add", "mint", ("plum",))
    assert state(on.undo()).question == "sip"
    again = state(on.add("reopen", flavouring_id="plum"))
    assert (again.current, again.settled) == ("plum", ())


def test_liking_is_asked_of_everybody_before_the_end_and_the_end_only_once():
    draft = said(added(poured(tasters=("ana", "bo")), 4), 3).add("settle", flavouring_id="plum")
    assert (state(draft).question, state(draft).taster, state(draft).last) == ("liking", "ana", False)
    draft = finished(draft, "ana")
    assert (state(draft).question, state(draft).taster, state(draft).last) == ("liking", "bo", True)
    draft = draft.add("liking", taster="bo", value=4)
    rest = {"taster": "bo", "likeness": None, "off_notes": {}, "note": ""}
    assert state(draft.add("rest", **rest)).question == "end"
    assert state(draft.add("rest", **rest, ended="right")).question == "done"


@pytest.mark.parametrize(("words", "ended"), [((3,), "right"), ((1, 2), "not reached"), ((2, 4), "too strong")])
def test_the_end_that_is_offered_follows_from_the_last_word(words, ended):
    draft = poured()
    for word in words:
        draft = said(added(draft, 4), word)
    assert likely_end(state(draft), draft) == ended


def test_a_cup_that_stood_says_so_and_is_sipped_again():
    draft = said(added(poured(), 4), 2).add("stand", minutes=5)
    assert state(draft).question == "sip"
    assert "5 min" in [step.as_entered for step in cup(said(draft, 3), SHELF).steps if step.kind == "rest"]


def test_what_was_stepped_up_to_is_poured_fresh_where_it_was_liked(monkeypatch):
    offered = []
    monkeypatch.setattr(fresh.start, "link", lambda label, recipe, **_: offered.append((label, recipe)))
    stepped = said(added(said(added(poured(), 10), 2), 4), 3)
    for liking in (7, 5):
        fresh.ask(None, cup(finished(stepped, liking=liking), SHELF))
    ((label, recipe),) = offered
    assert label == "Pour it fresh"
    assert recipe.doses["plum"] == pytest.approx(14 * 0.025 / 400 * 1000, rel=0.02)
