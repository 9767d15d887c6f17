"""pairing shelf find: what open tables say, with source and range; it fills what a label leaves out."""

import pandas as pd
import pytest

from pairing import Bench
from pairing.cli import main
from pairing.errors import TableError


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "b")
    label = {"base_id": "dairy", "name": "Milk of the farm", "fat_g_per_100g": 3.9, "source": "its label"}
    bench.load(bases=pd.DataFrame([label]))
    return bench


def test_it_fills_what_the_label_leaves_out(bench, capsys):
    words = ["shelf", "find", "milk", "cow", "--bench", str(bench.place)]
    assert main(words) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Milk, whole, Cow" in said
    assert "protein_g_per_100g 3.26 (3.2–3.32)" in said
    assert "Indian Food Composition Tables 2017" in said
    assert main([*words, "--fill", "dairy"]) == 0
    base = Bench.open(bench.place).shelf().base("dairy")
    assert base.fat_g_per_100g == 3.9
    assert base.protein_g_per_100g == 3.26
    assert base.fibre_g_per_100g is None
    assert base.source.startswith("its label; ")
    assert "entry L002" in base.source
    assert main([*words, "--fill", "dairy"]) == 1
    assert main([*words, "--fill", "dairy", "--entry", "9"]) == 1
    assert main(["shelf", "find", "unobtainium", "--bench", str(bench.place)]) == 1
    assert "no table has 'unobtainium'" in capsys.readouterr().err


def test_from_python(bench):
    (entry,) = bench.look_up("milk cow")
    assert set(bench.fill("dairy", entry)) >= {"protein_g_per_100g", "energy_kcal_per_100g"}
    bench.undo()
    assert bench.shelf().base("dairy").protein_g_per_100g is None
    bench.fill("dairy", entry)
    with pytest.raises(TableError, match="fills nothing of dairy"):
        bench.fill("dairy", entry)
