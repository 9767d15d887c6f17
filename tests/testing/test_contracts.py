"""The contract tests are there to fail: each of these plugins breaks one of them, and only a good one passes."""

import inspect
import types

import numpy as np
import pytest

from pairing.api import Base, Rule, hookimpl
from pairing.errors import PairingError
from pairing.host import load_module
from pairing.testing import BaseContract, RuleContract, sample_recipes, sample_shelf


def ramp(table):
    return np.arange(len(table)) / max(len(table), 1)


def share_of_all(table):
    return table.n_flavourings / max(table.n_flavourings.max(initial=1), 1)


def row_by_row(table):
    return np.array([float(n > 1) for n in table.n_flavourings])


def row_by_row_behind_numpy(table):
    return np.vectorize(lambda n: float(n > 1), otypes=[float])(table.n_flavourings)


def every_row_with_every_other(table):
    return (np.subtract.outer(table.n_flavourings, table.n_flavourings) == 0).any(axis=1) * 0.5


def rule_plugin(feature=lambda table: (table.n_flavourings > 1) * 1.0, **changed):
    fields = {"id": "a", "summary": "A rule", "source": "from memory", "acts_on": "liking", "feature": feature}
    rule = Rule(**{**fields, "because": lambda recipe: "so", **changed})
    module = types.SimpleNamespace(PAIRING_API=(1, 0))
    module.pairing_rules = hookimpl(lambda settings: [rule])
    return module


def base_plugin(**facts):
    module = types.SimpleNamespace(PAIRING_API=(1, 0))
    made = Base(**{"base_id": "a", "name": "A", "source": "invented", **facts})
    module.pairing_bases = hookimpl(lambda: [made])
    return module


def outcomes(contract, plugin, **options):
    """Run every test of a contract on a plugin and return the names of those that fail."""
    contract = type("TestIt", (contract,), {"plugin": plugin, **options})()
    failed = set()
    for name in [n for n in dir(contract) if n.startswith("test_")]:
        test = getattr(contract, name)
        try:
            host = load_module(plugin, "tested", contract.settings, strict=True)
            given = {"host": host, "rules": host.rules}
            test(**{wanted: given[wanted] for wanted in inspect.signature(test).parameters})
        except (AssertionError, PairingError, ValueError, TypeError):
            failed.add(name.removeprefix("test_"))
    return failed


def test_a_good_plugin_passes():
    assert outcomes(RuleContract, rule_plugin()) == set()
    assert outcomes(BaseContract, base_plugin(fat_g_per_100g=1, protein_g_per_100g=1)) == set()


@pytest.mark.parametrize(
    ("feature", "caught"),
    [
        (lambda t: np.full(len(t), np.nan), "features_are_in_range"),
        (lambda t: np.full(len(t), 2.0), "features_are_in_range"),
        (lambda t: np.zeros(3), "features_are_in_range"),
        (lambda t: np.zeros(len(t)), "every_rule_says_something"),
        (ramp, "a_row_does_not_depend_on_the_others"),
        (share_of_all, "a_row_does_not_depend_on_the_others"),
        (lambda t: (t.n_flavourings > t.n_flavourings.min()) * 1.0, "nothing_to_judge_is_no_fault"),
        (lambda t: np.clip(t.base_ph / 14, 0, 1), "unknown_facts_are_no_fault"),
        (row_by_row, "many_rows_are_one_piece_of_work"),
        (row_by_row_behind_numpy, "many_rows_are_one_piece_of_work"),
        (every_row_with_every_other, "many_rows_are_one_piece_of_work"),
    ],
)
def test_a_bad_feature_is_caught(feature, caught):
    assert caught in outcomes(RuleContract, rule_plugin(feature))


def test_wrong_words_and_wrong_answers_are_caught():
    assert "because_is_a_sentence" in outcomes(RuleContract, rule_plugin(because=lambda recipe: ""))
    recipe = next(r for r in sample_recipes(sample_shelf()) if len(r.doses) == 2)
    assert outcomes(RuleContract, rule_plugin(), answers=[("a", recipe, 1, 1)]) == set()
    assert outcomes(RuleContract, rule_plugin(), answers=[("a", recipe, 0, 0.5)]) == {"known_answers"}


def test_a_wrong_declaration_is_caught():
    plugin = rule_plugin()
    plugin.PAIRING_API = (9, 0)
    assert "api_version_is_accepted" in outcomes(RuleContract, plugin)
    plugin = rule_plugin()
    plugin.pairing_ruels = hookimpl(lambda settings: [])
    assert "every_hook_is_known" in outcomes(RuleContract, plugin)
    plugin = types.SimpleNamespace(PAIRING_API=(1, 0))
    assert "every_hook_is_known" in outcomes(RuleContract, plugin)


@pytest.mark.parametrize(
    ("facts", "caught"),
    [
        ({"source": None}, "bases_come_with_a_source"),
        ({"fat_g_per_100g": 60, "protein_g_per_100g": 60}, "composition_adds_up"),
        ({"carbohydrate_g_per_100g": 1, "sugars_g_per_100g": 5}, "composition_adds_up"),
        (
            {
                "fat_g_per_100g": 3,
                "protein_g_per_100g": 3,
                "carbohydrate_g_per_100g": 5,
                "energy_kcal_per_100g": 250,
            },
            "composition_adds_up",
        ),
    ],
)
def test_a_bad_base_is_caught(facts, caught):
    assert caught in outcomes(BaseContract, base_plugin(**facts))


def test_the_sample_shelf_differs_in_what_rules_ask_for():
    shelf = sample_shelf()
    for column in ("fat_g_per_100g", "protein_g_per_100g", "ph", "viscosity_mpa_s", "allergens"):
        assert len({getattr(b, column) for b in shelf.bases.values()}) > 1, column
    for column in ("fat_loving", "tags", "sweetened", "solubility", "ethanol_g_per_g", "sodium_mg_per_g"):
        assert len({getattr(f, column) for f in shelf.flavourings.values()}) > 1, column
    recipes = sample_recipes(shelf)
    assert len(recipes) == 400
    assert {len(r.doses) for r in recipes} >= {0, 1, 2, 3, 4, 5}
    assert sample_recipes(shelf) == recipes, "the same every time"
