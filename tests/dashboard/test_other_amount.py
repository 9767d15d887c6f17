"""What really went in, at the bench: by whichever button it is said, it is what is kept."""

import pytest
from tapping import asked, events, pour, press, said_of, write

from pairing.bench import Bench


@pytest.fixture
def at(app):
    return app("one", "bench")


@pytest.mark.parametrize("text", ["0.5", "0,5"])
@pytest.mark.parametrize("way_on", ["I added this much", "I added 0"])
def test_a_different_amount_is_taken_by_either_button(at, text, way_on):
    pour(at)
    press(at, "I poured")
    assert said_of(at, "Measured in").value == "drops"  # as the advice is said
    said_of(at, "Measured in").set_value("g").run()
    write(at, "Amount in g", text)
    press(at, way_on)
    assert "How strong" in asked(at)
    last = events(at)[-1]
    assert (last["amount"], last["unit"], last["as_advised"]) == (0.5, "g", False)


def test_what_went_in_is_told_as_it_was_measured(at):
    too_strong(at)
    head = next(h.proto.body for h in at.get("html") if 'class="where"' in h.proto.body)
    assert "Plum drops 20.0 g" in head
    assert "g/kg" not in head


def test_an_amount_that_the_tap_itself_hands_over_is_what_went_in(at):
    pour(at)
    press(at, "I poured")
    said_of(at, "Measured in").set_value("g").run()
    next(t for t in at.text_input if t.label == "Amount in g").set_value("0.5")
    press(at, "I added it")  # the field is left by this very tap
    assert (events(at)[-1]["amount"], events(at)[-1]["as_advised"]) == (0.5, False)


@pytest.mark.parametrize("text", ["0", "a lot"])
def test_an_amount_that_cannot_be_is_not_passed_over(at, text):
    pour(at)
    press(at, "I poured")
    write(at, "Amount in drops", text)
    press(at, "I added")
    assert at.error[0].value
    assert events(at)[-1]["kind"] == "pour"


def test_what_is_written_is_not_lost_to_another_way_on(at):
    too_strong(at)
    write(at, "Amount in g", "0.5")
    press(at, "I added 0")
    assert (events(at)[-1]["kind"], events(at)[-1]["amount"]) == ("add", 0.5)
    press(at, "Undo")
    write(at, "Amount in g", "")
    next(t for t in at.text_input if t.label == "Amount in g").set_value("0.5")
    press(at, "End it")
    assert "is written, but not added yet" in at.error[0].value


def test_a_cup_that_is_over_is_ended_under_the_thumb(at):
    too_strong(at)
    assert "this cup is over" in asked(at)
    press(at, "End it as too strong")
    assert "How much do you like it" in asked(at)
    said_of(at, "Liking").set_value(2).run()
    press(at, "Nothing else, save")
    assert Bench.open(at.bench_path).tables("readings")["ended"].tolist()[-1] == "too strong"


def too_strong(at):
    """Put far too much into a cup, and say so."""
    pour(at)
    press(at, "I poured")
    said_of(at, "Measured in").set_value("g").run()
    write(at, "Amount in g", "20")
    press(at, "I added 20 g")
    said_of(at, "Strength").set_value(5).run()
