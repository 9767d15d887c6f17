"""Which reason stands beside a suggestion: the one that is about this very cup."""

from types import SimpleNamespace

import pytest

from pairing import Bench, Brief
from pairing.cli.output import Output
from pairing.cli.recipes import _telling, show_suggestions
from pairing.model.reason import Reason
from pairing.model.wording import sentence


@pytest.fixture(scope="module")
def demo_model(demo):
    return Bench.open(demo).learn(random_state=0)


RULE = Reason(kind="rule", rule_id="cup-sweetness:pleasant", text="pleasantly sweet", points=0.9, sd=0.3, cups=9)
BASE = Reason(kind="base", base_id="oat", points=0.8, sd=0.3, cups=68)
ALONE = Reason(kind="flavouring", flavouring_ids=("biscuit",), points=0.6, sd=0.4, cups=20)
PLACED = Reason(kind="affinity", base_id="oat", flavouring_ids=("quince",), points=0.4, sd=0.5, cups=4)
PAIR = Reason(kind="pair", flavouring_ids=("biscuit", "quince"), points=0.2, sd=0.5, cups=0)
LOST = Reason(kind="pair", flavouring_ids=("biscuit", "quince"), points=-0.9, sd=0.5, cups=2)
DOSE = Reason(kind="needed dose", flavouring_ids=("biscuit",), label_ratio=1.4, log_sd=0.08, cups=20)


def telling(*reasons, common=None):
    said = (Reason(kind="new", base_id="oat"), *reasons, Reason(kind="unknown", what="energy", item_ids=("fig",)))
    return _telling(SimpleNamespace(purpose="new", reasons=said), common or {})


@pytest.mark.parametrize(
    ("reasons", "first"),
    [
        ((RULE, ALONE, PLACED, DOSE), PLACED),
        ((RULE, BASE, PAIR, DOSE), PAIR),
        ((RULE, BASE, ALONE, DOSE), ALONE),
        ((RULE, BASE, DOSE), RULE),
        ((LOST, RULE), RULE),
        ((LOST, DOSE), DOSE),
    ],
)
def test_what_is_about_this_cup_comes_before_what_is_about_any(reasons, first):
    assert telling(*reasons)[0] == first


def test_among_equals_the_weightier_stays_first_and_nothing_is_lost():
    assert telling(RULE, ALONE, PLACED, PAIR, LOST, DOSE) == [PLACED, PAIR, ALONE, RULE, DOSE, LOST]
    assert telling() == []


def test_the_demo_gives_no_rule_where_it_has_a_reason_of_the_cup(demo_model):
    found = demo_model.suggest(Brief(bases=("oat",)), n=3, random_state=0)
    ruled = [one for one in found if any(reason.kind == "rule" for reason in one.reasons)]
    assert ruled
    for one in ruled:
        assert _telling(one, {})[0].kind != "rule"


def test_what_tells_a_suggestion_from_those_beside_it_comes_first():
    common = {PAIR.about: 3, PLACED.about: 1, ALONE.about: 2, RULE.about: 3}
    assert telling(PAIR, PLACED, RULE, common=common)[0] == PLACED
    assert telling(PAIR, ALONE, RULE, common=common)[0] == ALONE
    assert telling(PAIR, RULE, common=common)[0] == PAIR, "a rule stays behind what is about this cup"


def test_the_words_decide_nothing(demo_model, monkeypatch, capsys):
    """Every sentence is another, and yet the same reasons stand in the same order."""
    found = demo_model.suggest(Brief(max_added_kcal=80), n=5, random_state=0)
    show_suggestions(Output(), found, demo_model.shelf, 0.1, reasons=4)
    plain = capsys.readouterr().out
    said = {str(reason): sentence(reason, demo_model.shelf) for one in found for reason in one.reasons}
    codes = {text: f"<{i}>" for i, text in enumerate(said)}
    monkeypatch.setattr("pairing.cli.recipes.sentence", lambda reason, shelf: codes[str(reason)])
    show_suggestions(Output(), found, demo_model.shelf, 0.1, reasons=4)
    coded = capsys.readouterr().out
    assert coded != plain
    for text, code in codes.items():
        coded = coded.replace(code, said[text])
    assert coded.split() == plain.split()
