import os
import subprocess
import sys
from pathlib import Path

from plugin_lab import BROKEN, GOOD_RULE, drop_in, install, load_one

from pairing import host
from pairing.api import Recipe
from pairing.host.tables import recipe_table
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat")],
    [Flavouring(flavouring_id="plum", name="Plum"), Flavouring(flavouring_id="mint", name="Mint")],
)
TABLE = recipe_table(SHELF, ["oat", "oat"], [("plum",), ("mint", "plum")])


def test_readers_are_tried_in_order_until_one_knows_the_file(tmp_path):
    bodies = {
        "a-breaks": "raise ValueError('not mine')",
        "b-passes": "return None",
        "c-lies": "return 3",
        "d-reads": "import pandas as pd\n    return pd.DataFrame({'trial_id': [path.stem]})",
        "e-late": "raise AssertionError('asked too late')",
    }
    for name, body in bodies.items():
        drop_in(tmp_path, name, f"@hookimpl\ndef pairing_read_trials(path):\n    {body}\n")
    loaded = host.load(tmp_path, only=bodies)
    table, faults = loaded.read_trials(tmp_path / "log.txt")
    assert table["trial_id"].tolist() == ["log"]
    assert [f.plugin for f in faults] == ["a-breaks", "c-lies"]
    assert host.load(tmp_path, only="b-passes").read_trials("log.txt") == (None, ())


def test_a_listener_that_breaks_never_stops_the_logging(tmp_path):
    drop_in(tmp_path, "breaks", "@hookimpl\ndef pairing_trial_logged(trial):\n    raise SystemExit\n")
    drop_in(tmp_path, "notes", "@hookimpl\ndef pairing_trial_logged(trial):\n    trial.append('seen')\n")
    drop_in(tmp_path, "silent", "@hookimpl\ndef pairing_trial_logged():\n    pass\n")
    trial = []
    faults = host.load(tmp_path, only="breaks,notes,silent", strict=True).trial_logged(trial)
    assert trial == ["seen"]
    assert [f.plugin for f in faults] == ["breaks"]


def test_the_plugins_stock_stands_beside_the_benchs_own(tmp_path):
    body = "@hookimpl\ndef pairing_bases():\n    return [Base(base_id='oat', name='Typical')]\n"
    loaded, _ = load_one(tmp_path, body)
    own = Shelf.of([Base(base_id="lab:oat", name="Mine")], [])
    assert loaded.stock(own).base("lab:oat").name == "Mine"
    assert set(loaded.stock(SHELF).bases) == {"oat", "lab:oat"}


def test_six_broken_plugins_leave_the_rest_working(site, tmp_path):
    for name, (body, head) in BROKEN.items():
        install(site, name, body, head=head)
    drop_in(tmp_path, "good", GOOD_RULE)
    loaded = host.load(tmp_path, only=["good", *BROKEN])
    matrix, faults = loaded.features(loaded.rules, TABLE)
    named = {f.plugin for f in (*loaded.faults, *faults)}
    assert named == set(BROKEN)
    at = [r.id for r in loaded.rules].index("good:good")
    assert matrix[:, at].tolist() == [0, 1]
    assert matrix.sum() == 1, "the faulty rules are off"
    assert all("\n" not in f.line for f in (*loaded.faults, *faults))


def test_because_of_a_loaded_rule_is_guarded(tmp_path):
    loaded, _ = load_one(tmp_path, "@hookimpl\ndef pairing_rules():\n    return [rule('a', because=lambda r: r.none)]")
    text, fault = host.scoring.because(loaded.rules[0], Recipe("oat"))
    assert text == "A rule"
    assert fault.plugin == "lab"
    assert Path(fault.where.rpartition(":")[0]).name == "lab.py"


def test_host_starts_without_the_heavy_libraries(tmp_path):
    drop_in(tmp_path, "good", GOOD_RULE)
    heavy = "{'pandas', 'sklearn', 'scipy', 'networkx', 'sqlalchemy', 'pint', 'altair', 'streamlit'}"
    script = (
        "import sys; from pairing import host\n"
        f"loaded = host.load({str(tmp_path)!r})\n"
        "assert any(r.id == 'good:good' for r in loaded.rules), loaded.faults\n"
        f"print(sorted({heavy} & set(sys.modules)))\n"
        f"import pandas; print(sorted({heavy} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, env=os.environ)
    before, after = run.stdout.splitlines()
    assert before == "[]"
    assert "pandas" in after, "the check can fail"
