from types import SimpleNamespace

import pytest

from pairing.api import Command, Flavouring, Rule, View
from pairing.errors import PairingError
from pairing.host.objects import checked, columns_for


def thing(**changed):
    """Anything with a rule's fields: no class of ours."""
    fields = {
        "id": "a",
        "summary": "A rule",
        "source": "from memory",
        "acts_on": "liking",
        "prior_mean": 0.2,
        "prior_sd": 0.3,
        "needs": ("fat_loving",),
        "feature": lambda table: table,
        "because": lambda recipe: "so",
    }
    return SimpleNamespace(**{**fields, **changed})


def test_a_rule_is_known_by_its_fields_not_by_its_class():
    rule = checked("pairing_rules", "kitchen", thing())
    assert (rule.id, rule.prior_mean, rule.column, rule.needs) == ("kitchen:a", 0.2, None, ("fat_loving",))
    assert rule.clock.calls == 0
    assert checked("pairing_rules", "kitchen", thing(id="kitchen:a")).id == "kitchen:a"


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"id": None}, "a short name is needed"),
        ({"id": "Fat Rule"}, "id is 'Fat Rule'"),
        ({"id": "other:a"}, "id is 'other:a'"),
        ({"summary": " "}, "summary is ' '"),
        ({"source": None}, "source is None"),
        ({"acts_on": "taste"}, "acts_on is 'taste' — use one of: liking, dose, caution"),
        ({"prior_mean": float("nan")}, "prior_mean is nan, a number is needed — give it in liking points"),
        ({"prior_mean": "1"}, "prior_mean is '1'"),
        ({"prior_mean": 9}, "prior_mean is 9, allowed is -4 to 4 liking points"),
        ({"prior_sd": 0}, "prior_sd is 0, allowed is above 0 to 4 liking points"),
        ({"prior_sd": -1}, "prior_sd is -1"),
        ({"acts_on": "dose", "prior_mean": 3.5}, "allowed is -3 to 3 log dose"),
        ({"needs": "fat_loving"}, "a tuple of column names is needed"),
        ({"needs": ("fat_lovin",)}, "did you mean fat_loving"),
        ({"needs": ("dose_g_per_kg",), "acts_on": "dose"}, "which is no column"),
        ({"feature": None}, "feature is None, a function is needed"),
        ({"feature": lambda: 0}, "does not take 1 value"),
        ({"because": lambda a, b: 0}, "does not take 1 value"),
        ({"column": 3, "acts_on": "dose"}, "column is 3"),
        ({"column": "fat", "acts_on": "dose"}, "one of: fat*fat_loving, companions"),
        ({"column": "companions"}, "allowed for a rule on dose"),
    ],
)
def test_a_bad_field_of_a_rule_is_named_with_value_and_remedy(changed, says):
    with pytest.raises(PairingError) as refused:
        checked("pairing_rules", "kitchen", thing(**changed))
    assert says in str(refused.value)
    assert refused.value.hint


def test_all_of_a_rule_missing_is_refused():
    with pytest.raises(PairingError, match="id is None"):
        checked("pairing_rules", "kitchen", 3)


def test_a_base_out_of_range_is_refused_by_field():
    with pytest.raises(PairingError, match="fat_g_per_100g is 120, allowed is 0 to 100"):
        checked("pairing_bases", "kitchen", SimpleNamespace(base_id="oat", name="Oat", fat_g_per_100g=120))
    base = checked("pairing_bases", "kitchen", SimpleNamespace(base_id="oat", name="Oat", allergens="none", other=1))
    assert (base.base_id, base.allergens) == ("kitchen:oat", frozenset())


def test_a_flavouring_needs_a_direction():
    with pytest.raises(PairingError, match="label_dose"):
        checked("pairing_flavourings", "kitchen", Flavouring(flavouring_id="plum", name="Plum"))


def test_commands_and_views_are_checked_for_what_they_can_take():
    with pytest.raises(PairingError, match="does not take 1 value"):
        checked("pairing_commands", "kitchen", Command(name="weigh", summary="Weigh", run=lambda: 0))
    with pytest.raises(PairingError, match="does not take 2 value"):
        checked("pairing_views", "kitchen", View(name="scale", title="Scale", show=lambda bench: None))
    with pytest.raises(PairingError, match="name is 'Weigh it'"):
        checked("pairing_commands", "kitchen", Command(name="Weigh it", summary="Weigh", run=lambda a: 0))
    assert checked("pairing_commands", "kitchen", Command(name="weigh", summary="Weigh", run=print)).name == "weigh"


def test_doses_are_columns_for_liking_only():
    assert "dose_g_per_kg" in columns_for("liking")
    assert "dose_g_per_kg" not in columns_for("dose")
    assert {"base_ph", "tags"} <= columns_for("dose")
    assert isinstance(thing(), SimpleNamespace)
    assert not isinstance(thing(), Rule)
