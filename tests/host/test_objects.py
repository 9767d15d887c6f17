from types import SimpleNamespace

import pytest
from plugin_lab import load_one

from pairing import host
from pairing.api import Base, Command, Flavouring, PluginError, Rule, View
from pairing.errors import PairingError
from pairing.host.objects import checked
from pairing.host.rules import columns_for
from pairing.model.shelf import Shelf


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
        ({"acts_on": "taste"}, "acts_on is 'taste' — use one of: liking, dose, off-note, caution"),
        ({"prior_mean": float("nan")}, "prior_mean is nan, a number is needed — give it in liking points"),
        ({"prior_mean": "1"}, "prior_mean is '1'"),
        ({"prior_mean": 9}, "prior_mean is 9, allowed is -4 to 4 liking points"),
        ({"prior_sd": 0}, "prior_sd is 0, allowed is 0.04 to 4 liking points"),
        ({"prior_sd": -1}, "prior_sd is -1"),
        ({"acts_on": "dose", "prior_mean": 3.5}, "allowed is -3 to 3 log dose"),
        ({"needs": "fat_loving"}, "a tuple of column names is needed"),
        ({"needs": ("fat_lovin",)}, "did you mean fat_loving"),
        ({"needs": ("temperature_c",), "acts_on": "dose"}, "which is no column"),
        ({"feature": None}, "feature is None, a function is needed"),
        ({"feature": lambda: 0}, "does not take 1 value"),
        ({"because": lambda a, b, c: 0}, "does not take 1 or 2 value"),
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
    with pytest.raises(PairingError, match="it has no id"):
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
    with pytest.raises(PairingError, match="does not take 1 or 3 value"):
        checked("pairing_commands", "kitchen", Command(name="weigh", summary="Weigh", run=lambda: 0))
    with pytest.raises(PairingError, match="does not take 2 value"):
        checked("pairing_views", "kitchen", View(name="scale", title="Scale", show=lambda bench: None))
    with pytest.raises(PairingError, match="name is 'Weigh it'"):
        checked("pairing_commands", "kitchen", Command(name="Weigh it", summary="Weigh", run=lambda a: 0))
    assert checked("pairing_commands", "kitchen", Command(name="weigh", summary="Weigh", run=print)).name == "weigh"


def test_how_a_cup_is_served_is_a_column_for_liking_only():
    assert "temperature_c" in columns_for("liking")
    assert "temperature_c" not in columns_for("dose")
    assert {"base_ph", "tags", "dose_g_per_kg"} <= columns_for("dose")
    assert isinstance(thing(), SimpleNamespace)
    assert not isinstance(thing(), Rule)


@pytest.mark.parametrize(
    ("composition", "says"),
    [
        ("fat_g_per_100g=90, protein_g_per_100g=90, energy_kcal_per_100g=1", "add up to 180 g in 100 g"),
        ("carbohydrate_g_per_100g=3, sugars_g_per_100g=4", "more than the 3 of carbohydrate"),
        ("fat_g_per_100g=9, protein_g_per_100g=9, carbohydrate_g_per_100g=9, energy_kcal_per_100g=1", "its parts give"),
    ],
)
def test_a_base_that_cannot_be_is_refused(tmp_path, composition, says):
    body = f"""
    @hookimpl
    def pairing_bases():
        return [Base(base_id="odd", name="Odd", {composition}), Base(base_id="fine", name="Fine", fat_g_per_100g=3)]
    """
    loaded, plugin = load_one(tmp_path, body)
    assert [base.base_id for base in loaded.bases] == ["lab:fine"]
    assert plugin.state == "partly"
    assert says in plugin.reason


def test_a_prior_that_no_cup_can_move_is_refused(tmp_path):
    body = "@hookimpl\ndef pairing_rules():\n    return [rule('sure', prior_mean=1, prior_sd={})]\n"
    loaded, plugin = load_one(tmp_path, body.format(0.039))
    assert loaded.rules == ()
    assert "prior_sd is 0.039, allowed is 0.04 to 4" in plugin.reason
    assert len(load_one(tmp_path, body.format(0.04))[0].rules) == 1


def test_two_tables_for_one_plugin_are_one_fault_and_a_misspelt_id_is_named(tmp_path):
    (tmp_path / "plugins.toml").write_text("[dose-limits]\na = 1\n[dose_limits]\na = 2\n")
    faults = [f.line for f in host.load(tmp_path, "dose-limits").faults if not f.note]
    assert len(faults) == 1
    assert "several tables for it: dose-limits, dose_limits" in faults[0]
    with pytest.raises(PluginError, match="several tables"):
        host.load(tmp_path, "dose-limits", strict=True)
    settings = {"dose-limits": {"legal_max_g_per_kg": {"bitter-oragne": 0.4}}}
    shelf = Shelf.of([Base(base_id="oat", name="Oat")], [Flavouring(flavouring_id="bitter-orange", name="Orange")])
    loaded = host.load(tmp_path, "dose-limits", settings=settings)
    (fault,) = loaded.misspelt(shelf)
    assert "names 'bitter-oragne'" in fault.line
    assert "did you mean bitter-orange?" in fault.line


@pytest.mark.parametrize("text", ["clear\x1b[2Jthe screen", "two\nlines", "bell\x07", "turn\u202eround"])
def test_texts_are_plain_and_in_one_line(text):
    with pytest.raises(PluginError, match="plain text in one line"):
        checked("pairing_views", "kitchen", View(name="scale", title=text, show=lambda bench, model: None))
    plain = View(name="scale", title="Ä <b>[x]</b> %", show=lambda bench, model: None)
    assert checked("pairing_views", "kitchen", plain).title == "Ä <b>[x]</b> %"
