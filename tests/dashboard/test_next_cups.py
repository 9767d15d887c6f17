"""What to try next as a choice: one reason a card, cautions once, two side by side, a start that is a link."""

from tapping import events, follow

from pairing.bench import Bench
from pairing.model.answers import Suggestion
from pairing.model.caution import Caution
from pairing.model.reason import Reason
from pairing.model.recipe import Recipe
from pairing_dashboard.suggestion_cards import shared_cautions
from pairing_dashboard.suggestion_why import strongest


def suggestion(*reasons):
    said = {"recipe": Recipe("oat", {"plum": 1.0}), "grams": {}, "drops": {}, "dose_low": {}, "dose_high": {}}
    figures = {"liking": 6.0, "liking_low": 5.0, "liking_high": 7.0, "likeness": None}
    sums = {"added_kcal": None, "total_kcal": None, "added_cost": None}
    return Suggestion(**said, **figures, **sums, purpose="new", reasons=reasons, cautions=())


def caution(text, severity="note"):
    return Caution(kind="allergen", severity=severity, words=text, source="from memory")


def told(at, name):
    return [h.proto.body for h in at.get("html") if f'class="{name}"' in h.proto.body]


def test_the_reason_on_a_card_is_not_one_that_the_plain_base_shares():
    base = Reason(kind="base", base_id="oat", points=2.0, cups=9)
    whole = Reason(kind="rule", base_id="oat", flavouring_ids=("plum",), rule_id="sweet", text="sweet", points=1.0)
    own = Reason(kind="flavouring", flavouring_ids=("plum",), points=-0.3, cups=3)
    assert strongest(suggestion(base, whole, own)) is own
    assert strongest(suggestion(base, whole)) is whole
    assert strongest(suggestion(base)) is base
    assert strongest(suggestion()) is None


def test_what_was_tried_before_is_the_reason_to_pour_it_again():
    again = Reason(kind="confirm", base_id="oat", flavouring_ids=("plum",), cups=2, poured=0)
    assert strongest(suggestion(Reason(kind="pair", flavouring_ids=("plum", "fig"), points=3.0), again)) is again


def test_cautions_that_all_share_stand_once_and_a_stop_never_there():
    milk, cold, stop = caution("contains milk"), caution("keep it cold"), caution("never", "stop")
    assert shared_cautions([[milk, cold, stop], [cold, stop]]) == [cold]


def test_two_that_are_tapped_are_held_against_each_other(app):
    at = app("demo")
    boxes = [c for c in at.checkbox if c.label == "Compare"]
    assert len(boxes) == 5
    for place in (0, 1):
        [c for c in at.checkbox if c.label == "Compare"][place].check().run()
    assert not at.exception
    assert told(at, "sides")
    [c for c in at.checkbox if c.label == "Compare"][4].check().run()  # a third takes the place of the first
    assert [c.value for c in at.checkbox if c.label == "Compare"] == [False, True, False, False, True]


def test_a_start_that_is_followed_twice_begins_one_cup(app):
    at = app("one")
    follow(at, "Start")
    cup, address = at.query_params["cup"], dict(at.query_params)
    before = events(at)
    at.query_params.update(address)
    at.run()
    assert events(at) == before
    at.switch_page("views/next_cups.py").run()
    assert any(it.proto.label.startswith("Go on with Oat drink") for it in at.get("page_link"))
    follow(at, "Start")
    assert at.query_params["cup"] != cup
    assert len(Bench.open(at.bench_path).list_drafts()) == 2


def test_an_address_that_asks_for_what_is_not_there_begins_nothing(app):
    for query in (
        {"cup": "../up", "recipe": "oat|plum=1"},
        {"cup": "0" * 32, "recipe": "oat|gone=1"},
        {"cup": "0" * 32, "recipe": "gone|plum=1"},
        {"cup": "0" * 32, "recipe": "||=;"},
        {"cup": "0" * 32, "recipe": "oat|plum=1", "serving": "much"},
    ):
        at = app("one", "bench", query)
        assert Bench.open(at.bench_path).list_drafts() == []
