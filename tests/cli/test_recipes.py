"""Which reason stands beside a suggestion: the one that is about this very cup."""

from collections import Counter
from types import SimpleNamespace

import pytest

import pairing_demo_data
from pairing import Bench, Brief
from pairing.cli.output import Output
from pairing.cli.recipes import _why, show_cautions
from pairing.model.recipe import Recipe

RULE = "the whole cup on oat is pleasantly sweet (cup-sweetness:pleasant): gained 0.9 ± 0.3 points"
BASE = "oat: gained 0.8 ± 0.3 points in 68 cups"
ALONE = "biscuit: gained 0.6 ± 0.4 points in 20 cups"
PLACED = "quince in oat: gained 0.4 ± 0.5 points in 4 cups"
PAIR = "biscuit + quince: is expected to gain 0.2 ± 0.5 points, not tasted so far"
LOST = "biscuit + quince: lost 0.9 ± 0.5 points in 2 cups"
DOSE = "biscuit needs 1.4 × its label here (± 8 %)"


def why(*reasons, most=1, common=None):
    recipe = Recipe("oat", {"biscuit": 2.5, "quince": 1.6})
    said = ("new: not tried in oat yet", *reasons)
    return _why(SimpleNamespace(purpose="new", recipe=recipe, reasons=said), most, common or {})


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
    assert why(*reasons) == f"new – {first}"


def test_among_equals_the_weightier_stays_first_and_nothing_is_lost():
    assert why(RULE, ALONE, PLACED, PAIR, LOST, DOSE, most=9) == "new – " + "; ".join(
        (PLACED, PAIR, ALONE, RULE, DOSE, LOST)
    )
    assert why() == "new"


def test_the_demo_gives_no_rule_where_it_has_a_reason_of_the_cup(tmp_path):
    bench = Bench.create(tmp_path / "b")
    bench.load(**pairing_demo_data.files())
    found = bench.learn(random_state=0).suggest(Brief(bases=("oat",)), n=3, random_state=0)
    ruled = [one for one in found if any("cup-sweetness:" in reason for reason in one.reasons)]
    assert ruled
    for one in ruled:
        assert "cup-sweetness:" not in _why(one, 1)


def test_what_tells_a_suggestion_from_those_beside_it_comes_first():
    common = Counter({PAIR: 3, PLACED: 1, ALONE: 2, RULE: 3})
    assert why(PAIR, PLACED, RULE, common=common) == f"new – {PLACED}"
    assert why(PAIR, ALONE, RULE, common=common) == f"new – {ALONE}"
    assert why(PAIR, RULE, common=common) == f"new – {PAIR}", "a rule stays behind what is about this cup"


def care(capsys, *cups):
    """Return the lines of the block for (base, flavourings, cautions)."""
    made = [SimpleNamespace(recipe=Recipe(base, dict.fromkeys(ids, 1.0)), cautions=c) for base, ids, c in cups]
    show_cautions(Output(), made)
    return [line.strip() for line in capsys.readouterr().out.splitlines()]


def test_cautions_that_differ_in_ids_or_measures_are_one(capsys):
    limit = "propylene glycol: {} mg a day is {} % of the 1425 mg a day for 57 kg"
    assert care(
        capsys,
        ("milk", ["fig"], ["contains milk (milk)", limit.format("893.6", "63"), "out of the fridge at most 2 h"]),
        ("oat", ["fig", "2 g"], ["contains milk (fig, 2 g)", limit.format("57", "4"), "ethanol is unknown: oat, 2 g"]),
        ("oat", ["fig"], ["contains gluten (oat)", "ethanol is unknown: oat, fig"]),
    ) == [
        "Care:",
        "1–2: contains milk (milk, fig, 2 g)",
        "1–2: propylene glycol: 57–893.6 mg a day is 4–63 % of the 1425 mg a day for 57 kg",
        "2–3: ethanol is unknown: oat, 2 g, fig",
        "3: contains gluten (oat)",
        "1: out of the fridge at most 2 h",
    ]


def test_cautions_that_say_something_else_stay_apart(capsys):
    over = "propylene glycol: 1500 mg a day is above the 1425 mg a day for 57 kg"
    under = "propylene glycol: 500 mg a day is 35 % of the 1425 mg a day for 57 kg"
    assert care(capsys, ("oat", ["fig"], [over]), ("oat", ["plum"], [under])) == ["Care:", f"1: {over}", f"2: {under}"]
    assert care(capsys) == []
