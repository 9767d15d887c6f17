"""Hooks in pluggy's registry: their order, the first result, other names."""

import pytest
from plugin_lab import GOOD_RULE, drop_in, load_one

from pairing import host
from pairing.errors import PluginError


@pytest.mark.parametrize(
    ("marks", "order"),
    [
        ({}, "apple melon pear"),
        ({"pear": "tryfirst=True"}, "pear apple melon"),
        ({"apple": "trylast=True"}, "melon pear apple"),
        ({"pear": "tryfirst=True", "melon": "tryfirst=True"}, "melon pear apple"),
    ],
)
def test_hooks_are_called_in_the_order_of_names_unless_they_ask_to_be_first_or_last(tmp_path, marks, order):
    for name in ("melon", "pear", "apple"):
        body = f"\n@hookimpl({marks.get(name, '')})\ndef pairing_read_trials(path):\n"
        body += f"    with open(path, 'a') as said:\n        said.write('{name} ')\n"
        drop_in(tmp_path, name, GOOD_RULE.replace("@hookimpl", f"@hookimpl({marks.get(name, '')})") + body)
    loaded = host.load(tmp_path, only="apple,melon,pear", strict=True)
    assert [r.id for r in loaded.rules] == [f"{name}:good" for name in order.split()]
    assert [p.name for p in loaded.plugins if p.state == "loaded"] == ["apple", "melon", "pear"]
    said = tmp_path / "log.txt"
    assert loaded.read_trials(said) == (None, ())
    assert said.read_text("utf-8").split() == order.split()


READER = """
import pandas as pd
@hookimpl
def pairing_read_trials(path):
    {}
"""


def test_the_first_table_wins_and_after_a_fault_the_next_reader_is_asked(tmp_path):
    bodies = {
        "a": "return None",
        "b": "return [1]",
        "c": "1 / 0",
        "d": "return pd.DataFrame({'who': ['d']})",
        "e": "raise SystemExit('never asked')",
    }
    for name, body in bodies.items():
        drop_in(tmp_path, name, READER.format(body))
    loaded = host.load(tmp_path, only=bodies)
    assert loaded.listens("pairing_read_trials")
    assert not loaded.listens("pairing_trial_logged")
    table, faults = loaded.read_trials(tmp_path / "log.txt")
    assert table["who"].tolist() == ["d"]
    assert [(f.plugin, f.subject) for f in faults] == [("b", "log.txt"), ("c", "log.txt")]
    assert "a DataFrame or None is needed" in faults[0].line
    assert faults[1].where.endswith("c.py:11")
    with pytest.raises(PluginError, match="plugin b"):
        host.load(tmp_path, only=bodies, strict=True).read_trials(tmp_path / "log.txt")


def test_a_hook_may_go_by_another_name_and_one_that_is_optional_may_be_unknown(tmp_path):
    body = """
@hookimpl(specname="pairing_rules")
def fruit(settings):
    return [rule("fruit")]
@hookimpl(specname="pairing_rules")
def nuts():
    return [rule("nuts"), rule("fruit")]
@hookimpl(optionalhook=True)
def pairing_of_a_later_host():
    return []
"""
    loaded, plugin = load_one(tmp_path, body)
    assert sorted(r.id for r in loaded.rules) == ["lab:fruit", "lab:nuts"]
    assert plugin.objects == {"pairing_rules": 2}
    (fault,) = loaded.faults
    assert "'lab:fruit' is used twice" in fault.line


@pytest.mark.parametrize(
    ("returned", "says"),
    [
        ("Base(base_id='a', name='A')", "it returned Base, a list is needed"),
        ("None", "it returned NoneType, a list is needed"),
        ("{'base_id': 'a'}", "it returned dict, a list is needed"),
        ("'abc'", "it returned str, a list is needed"),
        ("[{'base_id': 'a'}]", "dict: it has no base_id"),
    ],
)
def test_what_is_no_list_of_objects_is_refused_in_words(tmp_path, returned, says):
    body = f"\n@hookimpl\ndef pairing_bases():\n    return {returned}\n"
    path = drop_in(tmp_path, "lab", "from pairing.api import Base, hookimpl\nPAIRING_API = (1, 0)\n" + body)
    (fault,) = host.load(tmp_path, only="lab").faults
    assert f"pairing_bases: {says}" in fault.line
    assert f"{path}:" in fault.line
