import sys

import pytest
from plugin_lab import BROKEN, GOOD_RULE, drop_in, install, load_one

from pairing import host
from pairing.errors import PluginError, UnknownIdError
from pairing.host.tables import recipe_table
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat")],
    [Flavouring(flavouring_id="plum", name="Plum"), Flavouring(flavouring_id="mint", name="Mint")],
)
TABLE = recipe_table(SHELF, ["oat", "oat"], [("plum",), ("mint", "plum")])


def test_installed_plugins_are_found_and_their_objects_get_full_names(site):
    install(
        site,
        "kitchen",
        GOOD_RULE
        + """
@hookimpl
def pairing_bases():
    yield Base(base_id="barley", name="Barley water", fat_g_per_100g=0.1)
@hookimpl
def pairing_flavourings():
    return [Flavouring(flavouring_id="pear", name="Pear", label_dose="3 drops per 100 ml")]
@hookimpl
def pairing_commands():
    return [Command(name="weigh", summary="Weigh", run=lambda arguments: 0)]
@hookimpl
def pairing_views():
    return [View(name="scale", title="Scale", show=lambda bench, model: None)]
""",
        version="2.5",
    )
    loaded = host.load(only=["kitchen"])
    assert [b.base_id for b in loaded.bases] == ["kitchen:barley"]
    assert [f.flavouring_id for f in loaded.flavourings] == ["kitchen:pear"]
    assert [r.id for r in loaded.rules] == ["kitchen:good"]
    assert [(p, c.name) for p, c in loaded.commands] == [("kitchen", "weigh")]
    assert [v.name for v in loaded.views] == ["kitchen:scale"]
    (plugin,) = [p for p in loaded.plugins if p.name == "kitchen"]
    assert (plugin.state, plugin.version, plugin.origin, plugin.api) == ("loaded", "2.5", "package kitchen", (1, 0))
    assert plugin.objects == {
        "pairing_bases": 1,
        "pairing_flavourings": 1,
        "pairing_rules": 1,
        "pairing_commands": 1,
        "pairing_views": 1,
    }
    assert 0 < plugin.load_s < 5
    assert loaded.faults == ()


def test_nothing_is_loaded_when_none_is_wanted_and_all_is_left_out(site):
    install(site, "exits-at-once", BROKEN["exits"][0])
    loaded = host.load(only="")
    assert loaded.rules == loaded.bases == loaded.faults == ()
    assert {p.state for p in loaded.plugins} == {"left out"}
    assert "exits_at_once_lab" not in sys.modules
    matrix, faults = loaded.features(loaded.rules, TABLE)
    assert matrix.shape == (2, 0)
    assert faults == ()


def test_an_unknown_name_among_those_wanted_is_refused_with_the_nearest(site):
    install(site, "kitchen", GOOD_RULE)
    with pytest.raises(UnknownIdError, match="did you mean kitchen"):
        host.load(only="kitchn")


@pytest.mark.parametrize(
    ("name", "state", "says"),
    [
        ("import-error", "off", "ModuleNotFoundError: No module named 'a_package_that_is_nowhere'"),
        ("exits", "off", "it tried to end the program"),
        ("misspelt", "partly", "pairing_ruels is no hook — did you mean pairing_rules"),
        ("wrong-api", "off", "PAIRING_API is 2.0, this host speaks 1.1: the first number has to be 1"),
    ],
)
def test_a_plugin_that_breaks_while_loading_is_named_in_one_line(tmp_path, name, state, says):
    body, head = BROKEN[name]
    drop_in(tmp_path, "other", GOOD_RULE)
    drop_in(tmp_path, "lab", body, head=head)
    loaded = host.load(tmp_path, only="lab,other")
    (fault,) = loaded.faults
    assert fault.plugin == "lab"
    assert fault.line.startswith("plugin lab: ")
    assert says in fault.line
    assert "\n" not in fault.line
    (plugin,) = [p for p in loaded.plugins if p.name == "lab"]
    assert plugin.state == state
    assert says in plugin.reason
    assert [r.id for r in loaded.rules] == ["other:good"], "the others stay"
    with pytest.raises(PluginError, match="plugin lab"):
        host.load(tmp_path, only="lab,other", strict=True)


def test_an_import_error_names_file_and_line(tmp_path):
    path = drop_in(tmp_path, "lab", "\n\nimport a_package_that_is_nowhere\n", head="")
    (fault,) = host.load(tmp_path, only="lab").faults
    assert fault.where == f"{path}:3"
    path.write_text("x = 1\nif\n")
    host.trust(tmp_path)
    (fault,) = host.load(tmp_path, only="lab").faults
    assert fault.where == f"{path}:2"
    assert "SyntaxError" in fault.error


@pytest.mark.parametrize(
    ("head", "says"),
    [
        ("", "PAIRING_API is missing"),
        ("PAIRING_API = '1.0'", "two whole numbers are needed"),
        ("PAIRING_API = (1,)", "two whole numbers are needed"),
        ("PAIRING_API = (0, 9)", "the first number has to be 1"),
        ("PAIRING_API = (1, 99)", "newer than 1.1 of this host"),
    ],
)
def test_an_api_version_that_does_not_fit_keeps_the_plugin_off(tmp_path, head, says):
    loaded, plugin = load_one(tmp_path, "", head=head)
    assert plugin.state == "off"
    assert plugin.api is None
    assert says in loaded.faults[0].line


@pytest.mark.parametrize(
    ("definition", "says"),
    [
        ("@hookimpl\ndef pairing_rules(setings):\n    return []", "'setings'"),
        ("@hookimpl\ndef pairing_bases(shelf):\n    return []", "write pairing_bases()"),
        ("@hookimpl\ndef pairing_rules(*, settings):\n    return []", "keyword-only argument: 'settings'"),
        ("@hookimpl\nasync def pairing_rules(settings):\n    return []", "is asynchronous"),
        ("@hookimpl(wrapper=True)\ndef pairing_rules(settings):\n    yield", "is a wrapper"),
        ("def pairing_rules(settings):\n    return []", "write @hookimpl above it"),
    ],
)
def test_a_bad_signature_drops_that_hook_and_keeps_the_rest(tmp_path, definition, says):
    other = "\n@hookimpl\ndef pairing_views():\n    return [View(name='v', title='V', show=lambda b, m: None)]\n"
    loaded, plugin = load_one(tmp_path, definition + other)
    (fault,) = loaded.faults
    assert says in fault.line
    assert fault.where.startswith(f"{tmp_path / 'plugins' / 'lab.py'}:")
    assert "\n" not in fault.line
    assert plugin.state == "partly"
    assert plugin.hooks[-1] == "pairing_views"
    assert len(loaded.views) == 1
    assert loaded.rules == ()


def test_a_hook_may_leave_out_what_it_does_not_need(tmp_path):
    loaded, plugin = load_one(tmp_path, "@hookimpl\ndef pairing_rules():\n    return [rule('a')]")
    assert [r.id for r in loaded.rules] == ["lab:a"]
    assert plugin.state == "loaded"


@pytest.mark.parametrize("body", ["return None", "return 3", "raise ValueError('no')", "yield rule('a'); yield 1 / 0"])
def test_a_hook_that_fails_brings_nothing_and_stops_nobody(tmp_path, body):
    loaded, plugin = load_one(tmp_path, f"@hookimpl\ndef pairing_rules(settings):\n    {body}\n")
    assert loaded.rules == ()
    assert plugin.state == "partly"
    assert loaded.faults[0].hook == "pairing_rules"


def test_two_plugins_may_call_their_rules_alike_but_one_plugin_may_not(tmp_path):
    for name in ("first", "second"):
        drop_in(tmp_path, name, GOOD_RULE)
    drop_in(tmp_path, "third", "@hookimpl\ndef pairing_rules():\n    return [rule('same'), rule('same')]")
    loaded = host.load(tmp_path, only="first,second,third")
    assert [r.id for r in loaded.rules] == ["first:good", "second:good", "third:same"]
    assert "'third:same' is used twice" in loaded.faults[0].line


def test_order_of_installation_changes_nothing(site, tmp_path, monkeypatch):
    other_site = tmp_path / "other"
    other_site.mkdir()
    for name in ("pear", "apple", "melon"):
        install(site, name, GOOD_RULE)
    for name in ("melon", "pear", "apple"):
        install(other_site, name, GOOD_RULE, package=f"{name}-again")
    forward = host.load(only="apple,melon,pear")
    assert [r.id for r in forward.rules] == ["apple:good", "melon:good", "pear:good"]
    sys.path.remove(str(site))
    monkeypatch.syspath_prepend(other_site)
    backward = host.load(only="pear,melon,apple")
    assert [r.id for r in backward.rules] == [r.id for r in forward.rules]


def test_a_name_taken_twice_keeps_the_package_and_names_both(site, tmp_path):
    install(site, "salt", GOOD_RULE)
    drop_in(tmp_path, "salt", GOOD_RULE.replace("good", "other"))
    loaded = host.load(tmp_path, only="salt")
    assert [r.id for r in loaded.rules] == ["salt:good"]
    (fault,) = loaded.faults
    assert "the name is taken by package salt" in fault.error
    assert "salt.py" in fault.error


def test_an_edited_drop_in_is_another_module_and_the_change_is_told(tmp_path):
    body = GOOD_RULE.replace("0.5", "0.{}")
    drop_in(tmp_path, "lab", body.format(3))
    before = host.load(tmp_path, only="lab")
    drop_in(tmp_path, "lab", body.format(7))  # same length, same second
    after = host.load(tmp_path, only="lab")
    assert (before.rules[0].prior_mean, after.rules[0].prior_mean) == (0.3, 0.7)
    modules = {before.rules[0].feature.__module__, after.rules[0].feature.__module__}
    assert len(modules) == 2
    assert before.fingerprint != after.fingerprint
    version = {h: next(p.version for p in h.plugins if p.name == "lab") for h in (before, after)}
    assert after.changes(before) == (
        f"plugin lab changed from {version[before]} to {version[after]}",
        "rule lab:good: prior was 0.3 ± 1 and is 0.7 ± 1",
    )
    assert host.load(tmp_path, only="lab").changes(after) == ()
    assert before.features(before.rules, TABLE)[0].tolist() == [[0], [1]], "the old host still works"
    drop_in(tmp_path, "lab", "import nowhere_at_all")
    broken = host.load(tmp_path, only="lab")
    assert any("was loaded and is off: ModuleNotFoundError" in line for line in broken.changes(after))
    assert "rule lab:good is gone" in broken.changes(after)
    assert not list((tmp_path / "plugins").glob("__pycache__"))


def test_an_edit_or_another_setting_changes_the_fingerprint_even_where_the_priors_stay(site, tmp_path):
    body = "@hookimpl\ndef pairing_rules():\n    return [rule('a', lambda table: table.base_index * {})]\n"
    path = site / f"{install(site, 'kitchen', body.format(0.1))}.py"
    first = host.load(only="kitchen").fingerprint
    assert host.load(only="kitchen").fingerprint == first
    assert host.load(only="kitchen", settings={"kitchen": {"x": 1}}).fingerprint != first
    path.write_text(path.read_text().replace("0.1", "0.2"))
    assert host.load(only="kitchen").fingerprint != first
    assert host.load(only="").fingerprint != first


def test_files_that_start_with_an_underscore_or_are_unreadable_do_no_harm(tmp_path):
    drop_in(tmp_path, "_helper", "raise RuntimeError")
    drop_in(tmp_path, "lab", GOOD_RULE)
    (tmp_path / "plugins" / "folder.py").mkdir()
    host.trust(tmp_path)
    loaded = host.load(tmp_path, only="lab,folder")
    assert [r.id for r in loaded.rules] == ["lab:good"]
    (fault,) = loaded.faults
    assert fault.plugin == "folder"
    assert "IsADirectoryError" in fault.line


HOSTILE = {
    "an object that cannot be looked at": (
        """
class Odd:
    @property
    def id(self):
        raise RuntimeError("no looking")
@hookimpl
def pairing_rules():
    return [Odd(), rule("fine")]
""",
        "no looking",
    ),
    "a module that cannot be searched": (
        """
def __dir__():
    raise RuntimeError("no searching")
""",
        "no searching",
    ),
    "a hook that never ends": (
        """
@hookimpl
def pairing_rules():
    while True:
        yield rule("again")
""",
        "more than 10000 objects",
    ),
    "endless recursion": ("def f():\n    f()\nf()\n", "RecursionError"),
    "a text for rules": ("@hookimpl\ndef pairing_rules():\n    return 'rules'\n", "a list is needed"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_hostile_plugins_are_named_and_the_next_one_loads(tmp_path, case):
    body, says = HOSTILE[case]
    drop_in(tmp_path, "later", GOOD_RULE)
    drop_in(tmp_path, "lab", body)
    loaded = host.load(tmp_path, only="lab,later")
    assert any(says in fault.line for fault in loaded.faults), loaded.faults
    assert {fault.plugin for fault in loaded.faults} == {"lab"}
    assert "later:good" in [r.id for r in loaded.rules]


def test_a_name_that_would_confuse_ids_is_refused(tmp_path):
    drop_in(tmp_path, "a:b", GOOD_RULE)
    loaded = host.load(tmp_path, only="a:b")
    assert "cannot be a name" in loaded.faults[0].line
    assert loaded.rules == ()


def test_settings_come_from_the_bench_and_cannot_be_written(tmp_path):
    body = """
@hookimpl
def pairing_rules(settings):
    try:
        settings["weight"] = 3
    except TypeError:
        yield rule("frozen", prior_mean=settings.get("weight", 0.0))
    yield rule(settings["folder"].name)
"""
    bench = tmp_path / "my-bench"
    bench.mkdir()
    drop_in(bench, "lab", body)
    (bench / "plugins.toml").write_text("[lab]\nweight = 0.25\n[labb]\nweight = 1\n")
    loaded = host.load(bench, only="lab")
    assert [(r.id, r.prior_mean) for r in loaded.rules] == [("lab:frozen", 0.25), ("lab:my-bench", 0)]
    (fault,) = loaded.faults
    assert not fault.note
    assert "not installed — did you mean lab" in fault.line
    (bench / "plugins.toml").write_text("[gone-long-since]\nweight = 1\n")
    (note,) = host.load(bench, only="lab").faults
    assert note.note, "what nobody can have meant is no fault"
    (bench / "plugins.toml").write_text("lab = 3\n")
    assert "lab = 3 outside of any plugin's table" in host.load(bench, only="lab").faults[0].line
    assert host.load(bench, only="lab", settings={"lab": {"weight": 0.5}}).rules[0].prior_mean == 0.5
    (bench / "plugins.toml").write_text("lab weight")
    broken = host.load(bench, only="lab")
    assert "plugins.toml cannot be read" in broken.faults[0].line
    assert broken.rules[0].prior_mean == 0, "a broken file of settings stops nobody"


def test_what_a_plugin_prints_goes_to_the_standard_error(tmp_path, capsys):
    load_one(tmp_path, "print('hello')\n" + GOOD_RULE)
    out, err = capsys.readouterr()
    assert (out, err) == ("", "plugin lab printed: hello\n")


@pytest.mark.parametrize("where", ["{}", "@hookimpl\ndef pairing_bases():\n    {}; return []\n"])
def test_a_plugin_that_replaces_functions_of_the_core_is_named(tmp_path, where):
    from pairing.model.shelf import Shelf
    from pairing.quantities import directions

    was, of = directions.label_dose, Shelf.of
    patch = "from pairing.quantities import directions as d; d.label_dose = len"
    drop_in(tmp_path, "lab", where.format(patch))
    loaded = host.load(tmp_path, "lab")
    assert any(
        "it replaced pairing.quantities.directions.label_dose" in f.line and "which was put back" in f.line
        for f in loaded.faults
    )
    assert directions.label_dose is was
    drop_in(tmp_path, "lab", "from pairing.model.shelf import Shelf\nShelf.of = len\nShelf.base = len\n")
    assert "it replaced pairing.model.shelf.Shelf." in host.load(tmp_path, "lab").faults[0].line
    assert Shelf.of == of


LISTENING = """
@hookimpl
def pairing_trial_logged(trial):
    from pairing.quantities import directions as d; d.label_dose = len
"""


def test_what_others_replaced_is_left_alone_and_nobody_blamed(tmp_path, monkeypatch):
    from pairing.quantities import directions

    drop_in(tmp_path, "lab", GOOD_RULE + LISTENING)
    monkeypatch.setattr(directions, "label_dose", before := lambda *_: 1)
    loaded = host.load(tmp_path, "lab", settings={"worker": {"on": False}}, strict=True)
    monkeypatch.setattr(directions, "label_doses", after := lambda *_: 2)
    loaded.features(loaded.rules, TABLE)
    assert (directions.label_dose, directions.label_doses) == (before, after)
    (told,) = loaded.trial_logged(None)
    assert "plugin lab: " in told.line
    assert "it replaced pairing.quantities.directions.label_dose" in told.line
    assert directions.label_dose is before, "what stood there before, whoever put it there"
