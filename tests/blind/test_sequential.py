from itertools import product

import pytest

from pairing.blind.sequential import DIFFERENT, GO_ON, SAME, StoppingRule, stopping_rule
from pairing.discrimination.thurstone import percent_correct
from pairing.errors import LogError, QuantityError

P1 = percent_correct(1.0, "paired")


@pytest.fixture(scope="module")
def rule():
    return stopping_rule(0.5, P1)


def test_every_course_of_answers_ends_at_the_cap(rule):
    for k in range(rule.cap + 1):
        assert rule.state(k, rule.cap) in (DIFFERENT, SAME)


def test_limits_never_cross_and_nothing_is_decided_at_once(rule):
    assert all(same < different for same, different in zip(rule.same, rule.different, strict=True))
    assert rule.state(0, 0) == rule.state(1, 1) == rule.state(0, 1) == GO_ON


def test_clear_answers_stop_it_early(rule):
    n = next(n for n in range(1, rule.cap) if rule.state(n, n) != GO_ON)
    assert n <= 8
    assert rule.state(n, n) == DIFFERENT
    n = next(n for n in range(1, rule.cap) if rule.state(0, n) != GO_ON)
    assert rule.state(0, n) == SAME


def test_two_sided_rules_call_either_side():
    both = stopping_rule(0.5, P1, two_sided=True)
    n = next(n for n in range(1, both.cap) if both.state(n, n) != GO_ON)
    assert both.state(n, n) == both.state(0, n) == DIFFERENT
    assert both.chance(P1) == pytest.approx(both.chance(1 - P1))


@pytest.mark.parametrize("two_sided", [False, True])
def test_p_value_falls_with_earlier_and_stronger_ends(two_sided):
    rule = stopping_rule(0.5, P1, two_sided=two_sided)
    ends = [
        (k, n) for n in range(1, rule.cap + 1) for k in range(n, -1, -1) if k >= n / 2 and rule.state(k, n) == DIFFERENT
    ]
    reached = [(k, n) for k, n in ends if rule.state(k - 1, n - 1) == GO_ON]
    p = [rule.p_value(k, n) for k, n in reached]
    assert p == sorted(p)
    assert max(p) <= 0.05 + 1e-12
    gave_up = next((k, n) for n in range(1, rule.cap) for k in range(n + 1) if rule.state(k, n) == SAME)
    assert rule.p_value(*gave_up) > 0.05


def test_p_values_are_chances_by_luck(rule):
    """P(p ≤ u) ≤ u over every way in which a check can end."""
    ends = [
        (rule.p_value(k, n), chance)
        for n, (reached, _) in enumerate(rule._course(0.5), start=1)
        for k, chance in enumerate([a / 2 + b / 2 for a, b in zip([*reached, 0], [0, *reached], strict=True)])
        if rule.state(k, n) != GO_ON
    ]
    assert sum(chance for _, chance in ends) == pytest.approx(1)
    for u in (0.01, 0.05, 0.2, 0.5, 0.9):
        assert sum(chance for p, chance in ends if p <= u) <= u + 1e-9


def ends_by_luck(rule):
    """Chance by luck of every end (right, answers), counted answer by answer over every course there is."""
    ends = {}
    for answers in product((0, 1), repeat=rule.cap):
        n = next(n for n in range(1, rule.cap + 1) if rule.state(sum(answers[:n]), n) != GO_ON)
        if not any(answers[n:]):  # one course for all that would have come after its end
            k = sum(answers[:n])
            ends[k, n] = ends.get((k, n), 0.0) + rule.p0**k * (1 - rule.p0) ** (n - k)
    return ends


TRIANGLE = StoppingRule(
    1 / 3, 0.75, 0.05, 0.1, False, 12, (2, 3, 4, 4, 5, 5, 6, 6, 7, 7), (-1, -1, 0, 0, 1, 2, 2, 3, 4, 6)
)


@pytest.mark.parametrize("rule", [TRIANGLE, stopping_rule(1 / 3, 0.9, 0.1, 0.8), stopping_rule(0.5, 0.95, 0.1, 0.8)])
def test_p_values_are_those_of_every_course_of_answers_counted(rule):
    """Odd one out is right by luck in one of three: luck and bad luck are not alike there."""
    ends = ends_by_luck(rule)
    assert sum(ends.values()) == pytest.approx(1)
    assert rule.chance(rule.p0) == pytest.approx(sum(p for end, p in ends.items() if rule.state(*end) == DIFFERENT))

    def strength(end):
        """A difference called earlier is stronger, going on longer is stronger than giving up, more right are."""
        called = rule.state(*end) == DIFFERENT
        return called, -end[1] if called else end[1], end[0]

    for end in ends:
        assert rule.p_value(*end) == pytest.approx(sum(p for e, p in ends.items() if strength(e) >= strength(end)))


def test_counts_that_cannot_be(rule):
    with pytest.raises(LogError, match="cannot be"):
        rule.state(3, 2)


def test_no_difference_is_refused():
    with pytest.raises(QuantityError):
        stopping_rule(0.5, 0.5)
