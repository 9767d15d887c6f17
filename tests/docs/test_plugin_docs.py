"""The manual for plugin authors is run as it stands, and its reference is held to the code."""

import dataclasses
import inspect
import re
import tomllib
from pathlib import Path

import pytest

import pairing_plugins
from pairing import hookspecs
from pairing.api import CORE_COLUMNS, AdditionTable, RecipeTable, Rule
from pairing.cli import main
from pairing.host import load, load_module, trust
from pairing.host.formats import read_file
from pairing.host.registry import HOOKS
from pairing.store.exchange import clean
from pairing.testing.check import check_file

PLUGINS = Path(pairing_plugins.__file__).parent
MANUAL = (PLUGINS / "README.md").read_text("utf-8")
BLOCK = re.compile(r"(?:^`([\w/.]+)`\n\n)?^```(python|text|sh)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def test_the_tutorial_runs_as_written(tmp_path, monkeypatch, capsys):
    (tmp_path / "bench" / "plugins").mkdir(parents=True)
    monkeypatch.chdir(tmp_path)
    names, printed, compared = {}, "", 0
    for path, language, body in BLOCK.findall(MANUAL):
        if path:
            Path(path).write_text(body, encoding="utf-8")
        elif language == "python":
            exec(compile(body, "plugins/README.md", "exec"), names)
            printed = capsys.readouterr().out
        elif language == "text":
            assert printed == body
            compared += 1
        else:
            for line in body.splitlines():
                assert main(line.split()[1:]) == 0, line
    assert compared == 3
    evening = tmp_path / "bench" / "plugins" / "evening_notes.py"
    assert [one for one in check_file(evening) if one.result != "kept"] == []
    trust("bench")
    notes = load("bench", only="evening-notes", strict=True)
    (tmp_path / "friday.evening").write_text("oat quince 1.4 7\noat plum 2 6\n")
    table = read_file(notes, tmp_path / "friday.evening")[0]["readings"]
    assert clean("readings", table, on_bad="raise").table["liking"].tolist() == [7, 6]
    contract = names["TestGrainAndRoast"]()
    host = load_module(contract.plugin, "tested", strict=True)
    tests = [getattr(contract, name) for name in dir(contract) if name.startswith("test_")]
    assert len(tests) > 9
    for test in tests:
        given = {"host": host, "rules": host.rules}
        test(**{name: given[name] for name in inspect.signature(test).parameters})


@pytest.mark.parametrize("hook", hookspecs.__all__)
def test_the_hook_reference_is_what_the_specifications_say(hook):
    row = next(line for line in MANUAL.splitlines() if line.startswith(f"| `{hook}("))
    assert row.startswith(f"| `{hook}({', '.join(HOOKS[hook])})` | ")
    first = inspect.getdoc(getattr(hookspecs, hook)).split("\n\n")[0].replace("\n", " ")
    assert row.split(" | ")[1].removesuffix(" |") == first


def test_the_plugins_that_come_along_are_told_with_what_they_act_on(tmp_path):
    table = MANUAL.partition("## The plugins that come along")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| `([\w-]+)` \| ([\w, -]+?) \|", table, re.MULTILINE)
    told = {plugin: set(words.split(", ")) for plugin, words in rows}
    assert set(told) == {path.stem.replace("_", "-") for path in PLUGINS.glob("[!_]*.py")}
    settings = tomllib.loads(re.search(r"```toml\n(.*?)```", table, re.DOTALL).group(1))
    collection = tmp_path / settings["familiar-partners"]["collection"]
    collection.write_text("plum;clove\n")
    settings["familiar-partners"]["collection"] = str(collection)
    loaded = load(only=told, settings=settings, strict=True)
    acts_on = {plugin: set() for plugin in told}
    for rule in loaded.asked:
        acts_on[rule.id.partition(":")[0]].add(rule.acts_on)
    kinds = {"bases": loaded.bases, "guess": loaded.baselines, "reader": loaded.readers, "writer": loaded.writers}
    for word, brought in kinds.items():
        for thing in brought:
            acts_on[getattr(thing, "id", getattr(thing, "base_id", "")).partition(":")[0]].add(word)
    acts_on["drink-attributes"].add("attributes" if loaded.attributes else "nothing")
    found = "".join(one.source for one in loaded.compositions("milk")[0])
    for plugin in ("food-tables", "plain-bases"):
        acts_on[plugin].add("look-up" if f"(plugin {plugin})" in found else "nothing")
    acts_on["oil-in-fat-free"].add("nothing")
    assert told == acts_on


def test_the_reference_has_no_hook_that_does_not_exist():
    assert set(re.findall(r"^\| `(pairing_\w+)\(", MANUAL, re.MULTILINE)) == set(HOOKS)


def test_every_field_of_a_rule_and_every_name_of_a_table_is_told():
    told = set(re.findall(r"`(\w+)[`(,]", MANUAL))
    assert {field.name for field in dataclasses.fields(Rule)} <= told
    for kind in (RecipeTable, AdditionTable):
        own = {name for name in dir(kind) if not name.startswith("_")}
        assert own <= told, kind
    assert all(f"`{column}`" in MANUAL for column in CORE_COLUMNS)
