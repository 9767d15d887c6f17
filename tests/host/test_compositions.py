"""Looking a composition up by name in the tables of plugins."""

import pytest
from plugin_lab import HEAD, load_one

from pairing.errors import PluginError

TABLE = """
from pairing.api import Composition
@hookimpl
def pairing_compositions(text):
    {}
    yield Composition(name="Rolled oats", source="an invented table, row 7", values={{"fat_g_per_100g": 7.1}},
                      ranges={{"fat_g_per_100g": (6.0, 8.5)}})
"""


def test_what_is_found_comes_with_its_source_and_range(tmp_path):
    loaded, _ = load_one(tmp_path, TABLE.format("assert text == 'oats'"))
    (found,), faults = loaded.compositions("oats")
    assert faults == ()
    assert (found.name, dict(found.values)) == ("Rolled oats", {"fat_g_per_100g": 7.1})
    assert dict(found.ranges) == {"fat_g_per_100g": (6.0, 8.5)}
    assert found.source == "an invented table, row 7 (plugin lab)"


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        (
            "values={'fat_g_per_100': 1}",
            "'fat_g_per_100' is no number column of the bases — did you mean fat_g_per_100g",
        ),
        ("values={'fat_g_per_100g': 120}", "120"),
        ("values={'tags': 1}", "no number column"),
        ("values={}, ranges={'ph': (7, 5)}", "the range of ph is 7 to 5"),
        ("values={'ph': 9}, ranges={'ph': (5, 7)}", "the range of ph is 5 to 7"),
        ("values=7", "mappings"),
        ("values={'ph': 'sour'}", "sour"),
    ],
)
def test_a_bad_entry_is_left_out_and_named_and_the_rest_stays(tmp_path, entry, told):
    bad = f"yield Composition(name='Bad', source='invented', {entry})"
    loaded, _ = load_one(tmp_path, TABLE.format(bad))
    found, (fault,) = loaded.compositions("oats")
    assert [entry.name for entry in found] == ["Rolled oats"]
    assert told in fault.line
    assert fault.line.startswith("plugin lab: pairing_compositions")


def test_a_look_up_that_fails_leaves_the_others(tmp_path):
    loaded, _ = load_one(tmp_path, TABLE.format("1 / 0"), head=HEAD)
    found, (fault,) = loaded.compositions("oats")
    assert found == ()
    assert fault.where.endswith("lab.py:11")
    with pytest.raises(PluginError, match="plugin lab"):
        load_one(tmp_path, TABLE.format("1 / 0"), strict=True)[0].compositions("oats")
