"""Work behind a page: begun once, handed out when done, and earlier suggestions held against what was drunk since."""

import threading
from concurrent.futures import Future

import pytest

from pairing.errors import CupError
from pairing.model.caution import Caution
from pairing_dashboard import background, kept_suggestions
from pairing_dashboard.background import at_once, begun


@pytest.fixture(autouse=True)
def nothing_begun(monkeypatch):
    monkeypatch.setattr(background, "_works", {})


def test_the_same_work_is_begun_once():
    go, calls = threading.Event(), []

    def work():
        calls.append(1)
        go.wait(60)
        return "done"

    first, second = begun("one", work), begun("one", work)
    assert not at_once(first)
    go.set()
    assert (first.result(60), second.result(60)) == ("done", "done")
    assert begun("one", work).result(60) == "done"
    assert calls == [1]


def test_a_failure_is_handed_out_once_and_then_tried_again():
    answers = iter([CupError("no", "wait"), "well"])

    def work():
        if isinstance(answer := next(answers), Exception):
            raise answer
        return answer

    failed = begun("one", work)
    assert isinstance(failed.exception(60), CupError)
    assert begun("one", work) is failed
    assert begun("one", work).result(60) == "well"


def test_what_was_asked_for_longest_ago_is_let_go():
    for n in range(3 * background.MOST):
        begun(n, lambda: None).result(60)
    assert len(background._works) == background.MOST


def test_while_it_is_chosen_anew_what_was_shown_stands_but_not_what_is_stopped_by_now(app, monkeypatch):
    def cards(at):
        assert not at.exception
        bodies = [it.proto.body for it in at.main if it.type == "html"]
        return [body for body in bodies if 'class="suggestion"' in body], any("renewing" in body for body in bodies)

    at = app("demo")
    told, renewing = cards(at)
    assert len(told) == 5
    assert not renewing
    monkeypatch.setattr(background, "AT_ONCE_S", 0)
    monkeypatch.setattr(kept_suggestions, "begun", lambda key, work: Future())
    at.run()
    assert cards(at) == (told, True)
    stop = Caution(kind="food use", severity="stop", words="is not for food")
    monkeypatch.setattr(kept_suggestions, "cautions", lambda *asked, **how: (stop,))
    at.run()
    assert cards(at) == ([], True)
