"""A cup in hand: what has happened, what is asked next, and the way back."""

import json

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing_dashboard.cup.draft import Draft, cup, overridden, state

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
        ("end", {"ended": "right"}),
        ("liking", {"taster": "ana", "value": 7}),
        ("rest", {"taster": "ana", "likeness": None, "off_notes": {}, "note": ""}),
    ):
        asked.append(state(draft).question)
        draft = draft.add(kind, **facts)
    assert asked == ["base", "flavourings", "tasters", "pour", "add", "sip", "add", "end", "liking", "rest"]
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
