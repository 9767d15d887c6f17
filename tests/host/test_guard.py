import os
import re
import signal
import sys
import time
from itertools import count

import numpy as np
import pytest

from pairing.api import Recipe, Rule
from pairing.errors import PluginError
from pairing.host import scoring
from pairing.host.fault import Fault, told
from pairing.host.tables import addition_table, recipe_table
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat", ph=6.5), Base(base_id="nut", name="Nut")],
    [Flavouring(flavouring_id="plum", name="Plum"), Flavouring(flavouring_id="mint", name="Mint", fat_loving=0.3)],
)
TABLE = recipe_table(SHELF, ["oat", "nut", "oat"], [("plum",), ("mint",), ("mint", "plum")], [(1,), (2,), (3, None)])


def rule(feature, **other):
    about = {"id": "kitchen:thing", "summary": "A thing", "source": "from memory", "acts_on": "liking"}
    return Rule(**{**about, "feature": feature, "because": lambda recipe: f"in {recipe.base_id}", **other})


def test_good_features_come_back_in_the_order_of_the_rules():
    spread = rule(lambda t: t.base_index - 1 + 2 * (t.n_flavourings > 1))
    rules = [spread, rule(lambda t: t.n_flavourings > 1), rule(lambda t: [1, 0, 1])]
    matrix, faults = scoring.features(rules, TABLE)
    np.testing.assert_allclose(matrix, [[-1, 0, 1], [0, 0, 0], [1, 1, 1]])
    assert faults == ()


@pytest.mark.parametrize(
    ("feature", "says"),
    [
        (lambda t: np.full(len(t), np.nan), "feature is nan in row 0"),
        (lambda t: np.array([0, 0, np.inf]), "feature is inf in row 2"),
        (lambda t: np.zeros(len(t) - 1), r"shape \(2,\), \(3,\) is needed"),
        (lambda t: t.dose_g_per_kg * 0, r"shape \(3, 2\)"),
        (lambda t: np.full(len(t), 1.5), "feature is 1.5 in row 0, allowed is -1 to 1"),
        (lambda t: ["a"] * len(t), "numbers are needed"),
        (lambda t: None, "numbers are needed"),
        (lambda t: 1 / 0, "ZeroDivisionError"),
        (lambda t: t.base_index.__setitem__(0, 1), "read-only"),
        (lambda t: sys.exit("bye"), "tried to end the program"),
    ],
)
def test_a_bad_feature_switches_its_rule_off_and_no_other(feature, says):
    good = rule(lambda t: np.ones(len(t)), id="kitchen:good")
    matrix, (fault,) = scoring.features([rule(feature), good], TABLE)
    np.testing.assert_array_equal(matrix, [[0, 1]] * 3)
    assert fault.line.startswith("plugin kitchen: rule kitchen:thing skipped: ")
    assert f"{__file__}:" in fault.line
    assert "\n" not in fault.line
    with pytest.raises(PluginError, match=says):
        raise fault.as_error()
    with pytest.raises(PluginError, match=says):
        scoring.features([rule(feature), good], TABLE, strict=True)


NUMBERS = count()


@pytest.mark.parametrize(
    "feature",
    [
        lambda t: np.linspace(-1, 1, len(t)),
        lambda t: t.base_index / max(len(t), 9) + np.arange(len(t)) / 9,
        lambda t: np.full(len(t), next(NUMBERS) / 1000),
        lambda t: np.random.default_rng().random(len(t)),
    ],
)
def test_a_rule_whose_answer_rests_on_more_than_the_recipe_is_off(feature):
    matrix, (fault,) = scoring.features([rule(feature), rule(lambda t: t.base_index, id="kitchen:good")], TABLE)
    assert matrix.tolist() == [[0, 0], [0, 1], [0, 0]]
    assert "when asked about the same recipe among others" in fault.line
    additions = addition_table(SHELF, ["oat", "nut", "oat"], [("plum",), ("mint",), ("mint", "plum")])
    assert len(scoring.features([rule(feature)], additions)[1]) == 1


def test_the_additions_of_a_recipe_are_asked_about_together():
    additions = addition_table(SHELF, ["oat", "nut", "oat"] * 30, [("plum",), ("mint",), ("mint", "plum")] * 30)
    most = rule(lambda t: np.bincount(t.recipe)[t.recipe] / 2 - 0.1 * t.flavouring_index)
    matrix, faults = scoring.features([most], additions)
    assert faults == ()
    np.testing.assert_allclose(matrix[:4, 0], [0.5, 0.4, 0.9, 1.0])


def test_tables_are_fresh_for_each_rule_and_cannot_be_made_writable():
    def change(table):
        table.base_index = table.base_index + 1
        return table.base_index * 0.5

    def unlock(table):
        table.base_index.flags.writeable = True

    matrix, faults = scoring.features([rule(change), rule(lambda t: t.base_index, id="kitchen:good")], TABLE)
    assert faults == ()
    assert matrix[:, 1].tolist() == [0, 1, 0]
    for unlocking in (unlock, lambda t: unlock(t.incidence), lambda t: t._bases.numbers("ph").setflags(write=True)):
        assert len(scoring.features([rule(unlocking)], TABLE)[1]) == 1


def test_rows_with_an_unknown_need_are_zero_and_said_so():
    matrix, notes = scoring.features([rule(lambda t: np.ones(len(t)), needs=("base_ph", "dose_g_per_kg"))], TABLE)
    assert matrix[:, 0].tolist() == [1, 0, 0]
    assert all(n.note for n in notes)
    assert [n.line for n in notes] == [
        "plugin kitchen: kitchen:thing: says nothing where base_ph is unknown: nut",
        "plugin kitchen: kitchen:thing: says nothing where dose_g_per_kg is open: plum",
    ]


def test_notes_about_one_fact_are_one():
    def note(rule_id, error, ids=(), note=True):
        return Fault(plugin="k", stage="scoring", subject=rule_id, error=error, note=note, ids=tuple(ids))

    ph, fat = "says nothing where base_ph is unknown", "says nothing where base_fat_g_per_100g is unknown"
    assert told(
        [
            note("k:a", ph, ["nut", "oat"]),
            note("k:b", ph, ["oat", "plum, ripe and 3 more", "soy"]),
            note("k:a", fat, "abcdefgh"),
            note("k:a", fat, "ai"),
            note("k:c", "is slow"),
            note("k:d", "it fell over", note=False),
        ]
    ) == [
        "k:a, k:b: says nothing where base_ph is unknown: nut, oat, plum, ripe and 3 more, soy",
        "k:a: says nothing where base_fat_g_per_100g is unknown: a, b, c, d, e and 4 more",
        "k:c: is slow",
    ]


def test_nan_is_allowed_exactly_where_a_need_is_unknown():
    matrix, notes = scoring.features([rule(lambda t: t.base_ph / 14, needs=("base_ph",))], TABLE)
    np.testing.assert_allclose(matrix[:, 0], [6.5 / 14, 0, 6.5 / 14])
    assert all(n.note for n in notes)
    _, (fault,) = scoring.features([rule(lambda t: t.base_ph / 14)], TABLE)
    assert not fault.note
    assert "add the unknown column to needs" in fault.line


def test_an_unknown_name_in_needs_is_a_fault():
    _, (fault,) = scoring.features([rule(lambda t: np.ones(len(t)), needs=("base_phh",))], TABLE)
    assert "phh" in fault.line


def test_a_slow_rule_is_named_and_its_clock_runs(monkeypatch):
    ticks = iter([0.0, 1.5])
    monkeypatch.setattr(scoring.time, "perf_counter", lambda: next(ticks))
    slow = rule(lambda t: np.ones(len(t)))
    clock = scoring.Clock()
    object.__setattr__(slow, "clock", clock)
    matrix, (note,) = scoring.features([slow], TABLE)
    assert matrix.sum() == 3, "slow is not wrong"
    assert note.note
    assert note.error == "took 1.50 s for 3 rows"
    assert (clock.calls, clock.rows, clock.seconds) == (1, 3, 1.5)


@pytest.mark.usefixtures("interruptible")
def test_a_real_interrupt_is_not_swallowed_and_names_the_rule():
    def stop(table):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5)

    def pretend(table):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt, match=re.escape("plugin kitchen (kitchen:thing)")):
        scoring.features([rule(stop)], TABLE)
    _, (fault,) = scoring.features([rule(pretend)], TABLE)
    assert "it tried to end the program" in fault.line


def test_because_falls_back_to_the_summary():
    assert scoring.because(rule(None), Recipe("oat", {"plum": 1})) == ("in oat", None)
    for bad in (lambda r: 3, lambda r: " ", lambda r: r.nothing, lambda r: sys.exit()):
        text, fault = scoring.because(rule(None, because=bad), Recipe("oat"))
        assert text == "A thing"
        assert fault.stage == "because"


def test_reasons_are_plain_text_in_one_line():
    text, fault = scoring.because(rule(None, because=lambda r: "two\nlines\x1b[31m red"), Recipe("oat"))
    assert (text, fault) == ("two lines[31m red", None)
