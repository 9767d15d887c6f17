import json
import os
import subprocess
import sys

import pytest

from pairing.cli import main
from pairing.errors import PluginError
from pairing.host import load, trust
from pairing.scaffold.kinds import KINDS
from pairing.scaffold.write import write_file, write_package
from pairing.testing.check import check_file


def run(command, folder, **options):
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, env=os.environ, **options)


@pytest.mark.parametrize("kind", KINDS)
def test_a_fresh_file_keeps_to_the_contract(tmp_path, kind):
    (path,) = write_file("salt-and-smoke", kind, tmp_path)
    found = check_file(path)
    assert len(found) >= 3
    assert [one for one in found if one.result != "kept"] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_brings_something(tmp_path, kind):
    write_file("salt-and-smoke", kind, tmp_path)
    trust(tmp_path)
    (plugin,) = [p for p in load(tmp_path, only="salt-and-smoke", strict=True).plugins if p.state == "loaded"]
    assert sum(plugin.objects.values()) > 0
    assert plugin.hooks


@pytest.mark.parametrize(("kind", "tests"), [("rule", 11), ("base", 5), ("lookup", 5), ("format", 5)])
def test_a_fresh_package_passes_its_own_tests(tmp_path, kind, tests):
    files = write_package("salt-and-smoke", kind, tmp_path)
    assert files[0].name == "README.md"
    tested = run([sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"], tmp_path / "salt-and-smoke")
    assert tested.returncode == 0, tested.stdout + tested.stderr
    assert f"{tests} passed" in tested.stdout


def test_a_broken_example_fails_its_tests_and_shows_the_values(tmp_path):
    write_package("salt-and-smoke", "rule", tmp_path)
    module = tmp_path / "salt-and-smoke" / "pairing_salt_and_smoke.py"
    module.write_text(module.read_text().replace("/ 3.0, 0, 1)", "/ 6.0, 0, 1)"))
    tested = run([sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"], tmp_path / "salt-and-smoke")
    assert tested.returncode == 1
    assert "1 failed" in tested.stdout
    assert "assert 0.6 <= " in tested.stdout, "assertions within the contract are rewritten"


@pytest.mark.parametrize("kind", ["rule", "base"])
def test_a_single_file_is_loaded_with_its_bench(tmp_path, kind, capsys):
    assert main(["new-plugin", "Salt_and_Smoke", "--kind", kind, "--file", "--bench", str(tmp_path), "--json"]) == 0
    (path,) = json.loads(capsys.readouterr().out)["files"]
    assert path == str(tmp_path / "plugins" / "salt_and_smoke.py")
    loaded = load(tmp_path, only="salt-and-smoke", strict=True)
    assert [x.id for x in loaded.rules] == (["salt-and-smoke:sour"] if kind == "rule" else [])
    assert [x.base_id for x in loaded.bases] == (["salt-and-smoke:millet"] if kind == "base" else [])


def test_nothing_is_overwritten(tmp_path):
    write_package("salt", "rule", tmp_path)
    before = (tmp_path / "salt" / "README.md").read_text()
    with pytest.raises(PluginError, match="is there already"):
        write_package("salt", "base", tmp_path)
    assert (tmp_path / "salt" / "README.md").read_text() == before
    write_file("salt", "rule", tmp_path)
    with pytest.raises(PluginError, match="is there already"):
        write_file("salt", "rule", tmp_path)


@pytest.mark.parametrize("name", ["", "9lives", "a:b", "../up", "a--b", "import", "x" * 41, "smörgås", "aux", "COM1"])
def test_a_name_that_cannot_be_one_is_refused(tmp_path, name):
    with pytest.raises(PluginError, match="cannot be a plugin's name"):
        write_package(name, "rule", tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_kind_and_a_missing_bench_are_refused(tmp_path, capsys):
    with pytest.raises(PluginError, match="use one of: rule, curve"):
        write_package("salt", "view", tmp_path)
    assert main(["new-plugin", "salt", "--file", "--bench", str(tmp_path / "nowhere")]) == 1
    assert "no bench folder" in capsys.readouterr().err
