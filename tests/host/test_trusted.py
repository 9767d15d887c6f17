"""Files of a bench's plugin folder run only after somebody said so, on this machine, of everything in it."""

import os
import py_compile
import subprocess
import sys
from pathlib import Path

import platformdirs
import pytest
from plugin_lab import GOOD_RULE, drop_in

from pairing import Bench
from pairing.errors import PluginError
from pairing.host import load, trust
from pairing.host.trusted import EDITED, kept_in

MARKS = """
from pathlib import Path
Path(__file__).parents[1].joinpath("it-ran").touch()
"""


def state(bench, name="lab"):
    (plugin,) = [p for p in load(bench).plugins if p.name == name]
    return plugin.state


def in_a_new_process(code, folder):
    done = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_a_file_that_came_with_a_bench_does_not_run_and_is_named(tmp_path):
    drop_in(tmp_path, "lab", MARKS + GOOD_RULE, trusted=False)
    drop_in(tmp_path, "other", GOOD_RULE, trusted=False)
    loaded = load(tmp_path)
    assert not (tmp_path / "it-ran").exists()
    states = {p.name: p.state for p in loaded.plugins}
    assert (states["lab"], states["other"]) == ("not trusted", "not trusted")
    assert states["curdling"] == "loaded", "installed packages are trusted"
    (fault,) = [f for f in loaded.faults if f.stage == "trust"]
    assert fault.line.startswith("plugin lab, other: not trusted")
    assert f"pairing plugins --trust --bench {tmp_path}" in fault.remedy
    trust(tmp_path)
    assert [r.id for r in load(tmp_path, only="lab,other").rules] == ["lab:good", "other:good"]
    assert (tmp_path / "it-ran").exists()


def test_a_plugin_that_is_left_out_is_no_matter_of_trust_and_strict_stops_at_one_that_is_not(tmp_path):
    drop_in(tmp_path, "lab", GOOD_RULE, trusted=False)
    assert load(tmp_path, only="curdling", strict=True).faults == ()
    with pytest.raises(PluginError, match="plugin lab: not trusted"):
        load(tmp_path, strict=True)


def _edit(folder):
    (folder / "lab.py").write_text((folder / "lab.py").read_text() + "\n")


def _touch_helper(folder):
    (folder / "_helper.py").write_text("answer = 43\n")


def _data(folder):
    (folder / "data" / "partners.csv").write_text("a;c\n")


def _rename(folder):
    (folder / "data" / "partners.csv").rename(folder / "data" / "partner.csv")


def _add(folder):
    (folder / "data" / ".hidden").write_text("")


def _add_folder(folder):
    (folder / "deep").mkdir()


def _take_away(folder):
    (folder / "_helper.py").unlink()


def _swap(folder):
    one, other = folder / "_helper.py", folder / "_other.py"
    kept = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(kept)


def _cached(folder):
    """Put code where Python looks for what it has compiled: it would run in place of the source."""
    evil = folder.parent / "evil.py"
    evil.write_text("answer = 'evil'\n")
    cached = folder / "__pycache__" / f"_helper.{sys.implementation.cache_tag}.pyc"
    py_compile.compile(str(evil), str(cached), invalidation_mode=py_compile.PycInvalidationMode.UNCHECKED_HASH)


def _link_to_a_folder(folder):
    (folder / "more").symlink_to(folder.parent, target_is_directory=True)


def _what_a_link_leads_to(folder):
    (folder.parent / "linked.py").write_text("y = 2\n")


@pytest.mark.parametrize(
    "change",
    [_edit, _touch_helper, _data, _rename, _add, _add_folder, _take_away, _swap, _cached, _link_to_a_folder,
     _what_a_link_leads_to],
)  # fmt: skip
def test_any_change_of_the_folder_asks_again(tmp_path, change):
    drop_in(tmp_path, "lab", GOOD_RULE, trusted=False)
    folder = tmp_path / "plugins"
    (folder / "_helper.py").write_text("answer = 42\n")
    (folder / "_other.py").write_text("answer = 44\n")
    (folder / "data").mkdir()
    (folder / "data" / "partners.csv").write_text("a;b\n")
    (tmp_path / "linked.py").write_text("x = 1\n")
    (folder / "_linked.py").symlink_to(tmp_path / "linked.py")
    trust(tmp_path)
    assert state(tmp_path) == "loaded"
    change(folder)
    assert state(tmp_path) == "not trusted"


def test_the_same_files_elsewhere_are_another_folder(tmp_path):
    for name in ("mine", "strangers"):
        (tmp_path / name).mkdir()
        drop_in(tmp_path / name, "lab", GOOD_RULE, trusted=name == "mine")
    assert (state(tmp_path / "mine"), state(tmp_path / "strangers")) == ("loaded", "not trusted")
    (tmp_path / "link").symlink_to(tmp_path / "mine", target_is_directory=True)
    assert state(tmp_path / "link") == "loaded", "one folder by two names"


@pytest.mark.parametrize(
    "reach",
    [
        "sys.path.insert(0, str(Path(__file__).parent))\nimport _helper_of_lab",
        "path = Path(__file__).with_name('_helper_of_lab.py')\n"
        "spec = importlib.util.spec_from_file_location('_helper_of_lab', path)\n"
        "_helper_of_lab = importlib.util.module_from_spec(spec)\nspec.loader.exec_module(_helper_of_lab)",
    ],
)
def test_running_a_plugin_with_helpers_is_no_change_of_its_folder(tmp_path, reach):
    body = f"import importlib.util, sys\nfrom pathlib import Path\n{reach}\nassert _helper_of_lab.answer == 42\n"
    (tmp_path / "plugins").mkdir()
    (tmp_path / "plugins" / "_helper_of_lab.py").write_text("answer = 42\n")
    drop_in(tmp_path, "lab", body)
    code = "from pairing.host import load; print(*[p.state for p in load('.').plugins if p.name == 'lab'])"
    for _ in range(2):
        assert in_a_new_process(code, tmp_path) == "loaded"


def test_what_cannot_be_hashed_is_refused_by_name(tmp_path):
    drop_in(tmp_path, "lab", GOOD_RULE, trusted=False)
    (tmp_path / "plugins" / "more").symlink_to(tmp_path, target_is_directory=True)
    with pytest.raises(PluginError, match="more is neither a file nor a folder of its own"):
        trust(tmp_path)
    (tmp_path / "plugins" / "more").unlink()
    os.mkfifo(tmp_path / "plugins" / "pipe")
    with pytest.raises(PluginError, match="pipe is neither a file"):
        trust(tmp_path)
    with pytest.raises(PluginError, match="there is no folder"):
        trust(tmp_path / "nowhere")
    assert state(tmp_path) == "not trusted"


def test_what_is_trusted_is_kept_in_the_users_configuration_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    assert kept_in().parent == platformdirs.user_config_path("pairing", appauthor=False)
    name = "a b\nc ä"
    (tmp_path / name).mkdir()
    drop_in(tmp_path / name, "lab", GOOD_RULE)
    drop_in(tmp_path / name, "other", GOOD_RULE)
    trust(tmp_path / name)
    (line,) = kept_in().read_text().splitlines()
    assert state(tmp_path / name) == "loaded"
    code = "from pairing.host import load; print(*[p.state for p in load('.').plugins if p.name == 'lab'])"
    assert in_a_new_process(code, tmp_path / name) == "loaded"
    kept_in().write_text(line[:-2] + "\n\udcff nonsense\n", errors="surrogateescape")
    assert state(tmp_path / name) == "not trusted"


def test_a_configuration_folder_that_cannot_be_written_is_named(tmp_path, monkeypatch):
    (tmp_path / "config").write_text("a file")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    drop_in(tmp_path, "lab", GOOD_RULE, trusted=False)
    with pytest.raises(PluginError, match=r"trusted-plugins\.txt cannot be written"):
        trust(tmp_path)
    assert state(tmp_path) == "not trusted"


def test_while_editing_every_change_runs_until_the_process_ends(tmp_path):
    drop_in(tmp_path, "lab", GOOD_RULE, trusted=False)
    code = """
from pathlib import Path
from pairing.host import load, trust
trust(".", editing=True)
for x in "ab":
    file = Path("plugins/lab.py")
    file.write_text(file.read_text() + f"{x} = 1")
    print(*[p.state for p in load(".").plugins if p.name == "lab"])
    file.write_text(file.read_text() + "\\n")
"""
    assert in_a_new_process(code, tmp_path) == "loaded\nloaded"
    assert state(tmp_path) == "not trusted"


def test_a_process_that_was_started_for_editing_trusts_that_folder_alone(tmp_path, monkeypatch):
    for name in ("mine", "strangers"):
        (tmp_path / name).mkdir()
        drop_in(tmp_path / name, "lab", GOOD_RULE, trusted=False)
    monkeypatch.setenv(EDITED, str(tmp_path / "mine" / "plugins"))
    assert (state(tmp_path / "mine"), state(tmp_path / "strangers")) == ("loaded", "not trusted")


def test_a_bench_opened_in_python_names_what_is_not_trusted_and_answers(tmp_path, caplog):
    bench = Bench.create(tmp_path / "bench")
    drop_in(tmp_path / "bench", "lab", MARKS + GOOD_RULE, trusted=False)
    assert bench.host.rules
    assert "lab:good" not in {rule.id for rule in bench.host.rules}
    assert [r.message for r in caplog.records if r.message.startswith("plugin lab: not trusted")]
    trust(bench.place)
    assert "lab:good" in {rule.id for rule in Bench.open(Path(bench.place)).host.rules}
