"""What version 1 of the interface promises: it is only ever added to."""

import dataclasses
import importlib.util
import inspect
from pathlib import Path

import numpy as np
import pytest

from pairing import api, hookspecs, testing
from pairing.api import AdditionTable, Base, Flavouring, Recipe, RecipeTable
from pairing.host import load_module
from pairing.host.rules import columns_for
from pairing.host.scoring import because, features
from pairing.host.tables import addition_table, recipe_table
from pairing.model.shelf import Shelf

GOLDEN = Path(__file__).with_name("golden")
KINDS = [
    kind
    for name in api.__all__
    if dataclasses.is_dataclass(kind := getattr(api, name)) and kind not in (Base, Flavouring, Recipe)
]


def listing():
    """List hooks, interface names, fields and methods with their signatures, one a line."""
    yield from (f"hook {n}{_parameters(getattr(hookspecs, n))}" for n in hookspecs.__all__)
    yield from (f"api {name}" for name in api.__all__)
    yield from (f"column {name}" for name in sorted(columns_for("liking")))
    for kind in KINDS:
        for field in dataclasses.fields(kind):
            needed = "needed" if field.default is dataclasses.MISSING else "optional"
            yield f"{kind.__name__}.{field.name} {needed}"
    for kind in (RecipeTable, AdditionTable):
        table = _tables()[kind]
        names = {n for n in dir(table) if not n.startswith("_")} | {n for n in vars(table) if not n.startswith("_")}
        for name in sorted(names):
            value = getattr(table, name)
            yield f"{kind.__name__}.{name}{_parameters(value) if callable(value) else ''}"
    for kind in (getattr(testing, name) for name in testing.__all__ if name.endswith("Contract")):
        yield from (f"{kind.__name__}.{n}" for n in sorted(vars(kind)) if not n.startswith(("_", "test_")))


def _parameters(function):
    parameters = inspect.signature(function).parameters.values()
    return f"({', '.join(p.name if p.default is p.empty else f'{p.name}=…' for p in parameters)})"


def _shelf():
    return Shelf.of(
        [
            Base(base_id="lean", name="Lean", fat_g_per_100g=0.2, ph=5.5),
            Base(base_id="rich", name="Rich", fat_g_per_100g=4),
        ],
        [
            Flavouring(flavouring_id="syrup", name="Syrup", tags="sweet", fat_loving=0.2),
            Flavouring(flavouring_id="brine", name="Brine", tags="salty", fat_loving=0.8, carrier="ethanol:0.4"),
        ],
    )


def _tables():
    ids = (["lean", "rich", "lean"], [("syrup",), ("syrup",), ("brine", "syrup")])
    return {
        RecipeTable: recipe_table(_shelf(), *ids, [(2,), (2,), (1, 2)]),
        AdditionTable: addition_table(_shelf(), *ids),
    }


@pytest.fixture
def golden():
    spec = importlib.util.spec_from_file_location("written_for_1_0", GOLDEN / "written_for_1_0.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("version", ["1_0", "1_1"])
def test_nothing_that_was_promised_is_gone(version):
    now = set(listing())
    promised = (GOLDEN / f"frozen_{version}.txt").read_text().splitlines()
    assert len(promised) > 60
    gone = [line for line in promised if line not in now]
    assert not gone, "version 1 may only be added to; for anything else raise the first number of API_VERSION"


def test_what_is_new_raises_the_second_number():
    listed = [path for path in GOLDEN.glob("frozen_*.txt") if path.stem <= "frozen_{}_{}".format(*api.API_VERSION)]
    promised = {line for path in listed for line in path.read_text().splitlines()}
    new = [line for line in listing() if line not in promised and not line.startswith("column ")]
    assert not new, "raise the second number of API_VERSION, and list them beside what was promised before"


def test_a_plugin_written_for_1_0_loads(golden):
    host = load_module(golden, "golden", {"mean": 0.3}, strict=True)
    assert [p.state for p in host.plugins] == ["loaded"]
    assert [r.id for r in host.rules] == ["golden:liked", "golden:needed", "golden:risky", "golden:own-class"]
    assert host.rules[0].prior_mean == 0.3
    assert (host.rules[1].prior_mean, host.rules[1].prior_sd, host.rules[1].column) == (0, 1, "companions")
    assert (host.bases[0].base_id, host.flavourings[0].flavouring_id) == ("golden:sorghum", "golden:loquat")
    assert (host.commands[0][1].name, host.views[0].name) == ("loquat", "golden:loquat")


def test_a_plugin_written_for_1_0_works(golden, tmp_path):
    host = load_module(golden, "golden", strict=True)
    liked, needed, risky, own = host.rules
    matrix, notes = features([liked, risky, own], _tables()[RecipeTable], strict=True)
    np.testing.assert_allclose(matrix, [[0.5, 0, 1], [-0.25, 0, 0], [-0.25, 1, 1]])
    assert [n.subject for n in notes] == ["golden:own-class"]
    matrix, _ = features([needed], _tables()[AdditionTable], strict=True)
    np.testing.assert_allclose(matrix[:, 0], [0, 0, 0.2, 0.25])
    assert because(own, Recipe("lean", {"syrup": 1}))[0] == "own words on lean"
    table, faults = host.read_trials(tmp_path / "log.loquat")
    assert table["flavouring_id"].tolist() == ["loquat"]
    assert faults == ()
    assert host.trial_logged(table) == ()
    assert [Recipe("sorghum", {"loquat": 1.0})] == golden.LOGGED
    assert "no trial" in host.trial_logged(None)[0].line
