"""Settings that a plugin declares: checked at load, each by itself, and filled in."""

import pytest
from plugin_lab import load_one

from pairing.api import Base, Flavouring, Setting
from pairing.errors import PluginError
from pairing.host.objects import checked
from pairing.host.settings import in_words
from pairing.model.shelf import Shelf

DECLARED = """
from pairing.api import Setting
@hookimpl
def pairing_settings():
    yield Setting(name="most_g_per_kg", about="The most", kind="number", unit="g/kg", low=0, high=5, default=2)
    yield Setting(name="rounds", about="How often", kind="whole", low=1)
    yield Setting(name="strict", about="Whether", kind="yes-no", default=False)
    yield Setting(name="how", about="How", choices=("warm", "cold"))
    yield Setting(name="book", about="Recipes", kind="file")
    yield Setting(name="legal", about="Maxima", kind="number", each="flavouring", low=0)
@hookimpl
def pairing_rules(settings):
    handed.update(settings)
    return []
handed = {}
"""


def handed(tmp_path, toml):
    (tmp_path / "plugins.toml").write_text(f"[lab]\n{toml}\n")
    loaded, plugin = load_one(tmp_path, DECLARED)
    return {n: v for n, v in loaded.settings["lab"].items() if n != "folder"}, [f.line for f in loaded.faults], plugin


def test_what_is_right_is_handed_over_and_what_is_missing_has_its_default(tmp_path):
    (tmp_path / "book.txt").write_text("plum")
    found, faults, plugin = handed(tmp_path, 'most_g_per_kg = 3\nrounds = 2\nhow = "cold"\nbook = "book.txt"')
    assert faults == []
    assert plugin.state == "loaded"
    assert found == {
        "most_g_per_kg": 3.0, "rounds": 2, "how": "cold", "book": tmp_path / "book.txt", "strict": False,
    }  # fmt: skip
    assert handed(tmp_path, "")[0] == {"most_g_per_kg": 2, "strict": False}


@pytest.mark.parametrize(
    ("toml", "told"),
    [
        ("most_g_per_kgg = 3", "there is no setting 'most_g_per_kgg' — did you mean most_g_per_kg?"),
        ("most_g_per_kg = 9", "most_g_per_kg is 9 g/kg, allowed is number, 0 to 5 g/kg"),
        ("most_g_per_kg = nan", "most_g_per_kg is nan, a number is needed"),
        ("most_g_per_kg = true", "most_g_per_kg is True, a number is needed"),
        ("most_g_per_kg = '3'", "a number is needed"),
        ("rounds = 1.5", "rounds is 1.5, a whole number is needed"),
        ("strict = 1", "write true or false"),
        ("how = 'cool'", "how is 'cool'"),
        ("book = 'none.txt'", "there is no"),
        ("legal = 3", "a value for each flavouring is needed"),
    ],
)
def test_what_is_wrong_is_refused_by_name_and_the_rest_is_handed_over(tmp_path, toml, told):
    found, (fault,), plugin = handed(
        tmp_path, f"{toml}\n" + ("rounds = 2" if "rounds" not in toml else "strict = true")
    )
    assert told in fault
    assert fault.startswith("plugin lab: ")
    assert found == {"most_g_per_kg": 2, "strict": "rounds" in toml} | ({} if "rounds" in toml else {"rounds": 2})
    assert plugin.state == "partly"
    with pytest.raises(PluginError):
        load_one(tmp_path, DECLARED, strict=True)


def test_one_wrong_maximum_leaves_the_others_in_force(tmp_path):
    found, (fault,), _ = handed(tmp_path, "[lab.legal]\nplum = 1\nclove = 'little'")
    assert found["legal"] == {"plum": 1.0}
    assert "legal of clove is 'little', a number is needed" in fault


def test_an_id_that_the_bench_does_not_know_is_named_with_the_nearest(tmp_path):
    (tmp_path / "plugins.toml").write_text("[lab.legal]\nbitter-oragne = 0.4\nplum = 1\n")
    loaded, _ = load_one(tmp_path, DECLARED)
    items = [Flavouring(flavouring_id=name, name=name) for name in ("bitter-orange", "plum")]
    shelf = Shelf.of([Base(base_id="oat", name="Oat")], items)
    (fault,) = loaded.misspelt(shelf)
    assert "names 'bitter-oragne', which is no flavouring of this bench" in fault.line
    assert "did you mean bitter-orange?" in fault.line


def test_without_a_declaration_nothing_is_checked(tmp_path):
    (tmp_path / "plugins.toml").write_text("[lab]\nanything = 1\n")
    loaded, plugin = load_one(tmp_path, "@hookimpl\ndef pairing_rules(settings):\n    return []\n")
    assert plugin.state == "loaded"
    assert loaded.settings["lab"]["anything"] == 1


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"name": "Most"}, "name is 'Most'"),
        ({"name": "folder"}, "name is 'folder'"),
        ({"about": ""}, "about is ''"),
        ({"kind": "numbers"}, "use one of: number, whole, yes-no, text, file"),
        ({"each": "cup"}, "use one of: base, flavouring, taster, name"),
        ({"kind": "number", "choices": ("a",)}, "choices are for texts"),
        ({"kind": "number", "low": 3, "default": 1}, "most is 1, allowed is number, 3 or more"),
    ],
)
def test_a_bad_declaration_is_refused(changed, told):
    with pytest.raises(PluginError) as refused:
        checked("pairing_settings", "lab", Setting(**{"name": "most", "about": "The most", **changed}))
    assert told in str(refused.value)


def test_what_a_setting_may_be_in_words():
    assert in_words(Setting(name="a", about="A", choices=("x", "y"))) == "text, x or y"
    assert in_words(Setting(name="a", about="A", kind="number", low=1)) == "number, 1 or more"
