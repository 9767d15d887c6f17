from pairing.api import Recipe, Rule
from pairing.host import load
from pairing.safety.rules import rule_cautions
from pairing.testing import sample_shelf

SHELF = sample_shelf()


def test_first_party_cautions_reach_the_recipes_they_are_about():
    rules = load(only="curdling,fat-holds-back").rules
    recipes = [
        Recipe("rich-milk", {"sharp-gooseberry": 30}),
        Recipe("rich-milk", {"sharp-gooseberry": 17}),
        Recipe("thick-oat"),
    ]
    found, faults = rule_cautions(rules, SHELF, recipes)
    assert faults == ()
    assert [[(c.severity, c.kind) for c in row] for row in found] == [
        [("warn", "rule")], [("note", "rule")], [],
    ]  # fmt: skip
    assert found[0][0].text.startswith("curdling is likely")
    assert "(curdling:likely)" in found[0][0].source


def test_a_caution_that_cannot_be_asked_is_a_fault_and_one_without_words_keeps_its_summary():
    about = {"summary": "Mind the gap", "source": "from memory", "acts_on": "caution"}
    silent = Rule(id="p:silent", feature=lambda t: 1 / 0, because=lambda r: "x", **about)
    wordless = Rule(id="p:wordless", feature=lambda t: [1.0] * len(t), because=lambda r: r.nothing, **about)
    (row,), faults = rule_cautions([silent, wordless], SHELF, [Recipe("thick-oat")])
    assert [c.text for c in row] == [
        "nobody watches for this: Mind the gap (the rule p:silent has a fault)",
        "Mind the gap",
    ]
    assert [f.subject for f in faults] == ["p:silent", "p:wordless"]


def test_no_recipes_and_no_rules():
    assert rule_cautions((), SHELF, [Recipe("thick-oat")]) == ([()], ())
    assert rule_cautions(load(only="curdling").rules, SHELF, []) == ([], ())
