"""Reasons as people read them."""

import re

import pytest

from pairing.model.columns import STRENGTH_WORDS
from pairing.model.reason import Reason
from pairing.model.wording import part


@pytest.mark.parametrize(
    ("cups", "poured", "told"),
    [
        (1, 1, "tried once in oat, liked 7.0, poured straight; pour"),
        (2, 2, "tried 2 times in oat, liked 7.0; pour"),
        (1, 0, "tried once in oat, liked 7.0, only at the end of a ladder; pour"),
    ],
)
def test_what_was_only_stepped_up_to_is_told_from_what_was_poured(cups, poured, told):
    assert told in str(Reason(kind="confirm", base_id="oat", cups=cups, liking=7.0, poured=poured))


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"points": 0.5}, "oat: +0.5 points"),
        ({"points": 0.5, "sd": 0.39}, "oat: +0.5 ± 0.5 points"),
        ({"points": -0.5, "cups": 3, "sd": 0.39}, "oat: lost 0.5 ± 0.5 points in 3 cups"),
        ({"points": 0.5, "cups": 1}, "oat: gained 0.5 points in 1 cup"),
        ({"points": 0.5, "cups": 0}, "oat: is expected to gain 0.5 points, not scored so far"),
        ({"points": -0.5, "cups": 0}, "oat: is expected to lose 0.5 points, not scored so far"),
    ],
)
def test_points_are_told_with_their_spread_where_it_is_known(facts, told):
    assert str(Reason(kind="affinity", base_id="oat", **facts)) == told


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"cups": 3, "label_ratio": 0.8, "log_sd": 0.1}, r"needs 0\.8 × its label here \(± 14 %\)"),
        ({"label_ratio": 1.0, "log_sd": 0.5}, "its dose is a guess .* only its label speaks for it"),
        ({"log_sd": 0.5}, "its dose is a guess .* it has no label direction"),
    ],
)
def test_it_is_said_what_a_needed_dose_rests_on(facts, told):
    assert re.search(told, str(Reason(kind="needed dose", flavouring_ids=("plum",), **facts)))


def test_of_several_flavourings_the_one_to_adjust_comes_first():
    facts = {"cups": 1, "liking": 6.0, "tried_g_per_kg": 2.0, "strength": 2, "dose_g_per_kg": 3.0}
    said = str(Reason(kind="adjust", base_id="oat", flavouring_ids=("plum", "pear"), **facts))
    assert "plum was at 2 g/kg ('too weak'), 3 g/kg should be right" in said


@pytest.mark.parametrize(("text", "named"), [("salt lifts it", "salt lifts it (p:salt)"), ("", "p:salt")])
def test_a_part_of_a_rule_is_called_by_its_words_and_its_id(text, named):
    assert part(Reason(kind="rule", rule_id="p:salt", text=text)) == named


@pytest.mark.parametrize(("kind", "role"), [("lead", "is the lead"), ("lowered", "was lowered to keep the limits")])
@pytest.mark.parametrize("strength", range(len(STRENGTH_WORDS)))
def test_every_role_is_named_with_its_likeliest_strength(kind, role, strength):
    said = str(Reason(kind=kind, flavouring_ids=("plum",), strength=strength))
    assert role in said
    assert f"'{STRENGTH_WORDS[strength]}'" in said
