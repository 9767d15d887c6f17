"""Giving to a pool, learning from it and adopting what it knows, at the command line."""

import json

import numpy as np
import pytest
from pools import kitchens, write_pool

from pairing import Bench
from pairing.cli.entry import main


@pytest.fixture(scope="module")
def kitchen():
    return kitchens(0.7, n_bases=3, n_flavourings=6)


@pytest.fixture
def place(kitchen, tmp_path):
    palate = kitchen(9000)
    bench = Bench.create(tmp_path / "bench")
    bench.load(
        bases=palate.bases_df, flavourings=palate.flavourings_df, readings=palate.log(8, np.random.default_rng(3))
    )
    return tmp_path / "bench"


def told(capsys, *words):
    code = main([*map(str, words), "--json"])
    return code, json.loads(capsys.readouterr().out or "{}")


def test_nothing_leaves_without_yes(place, tmp_path, capsys):
    give = ["pool", "contribute", tmp_path / "pool", "--kitchen", "boathouse", "--bench", place]
    code, answer = told(capsys, *give)
    assert code == 1
    code, answer = told(capsys, *give, "--as-is")
    assert code == 0
    assert answer["written"] is False
    assert answer["cups"] == 8
    assert not (tmp_path / "pool").exists()
    code, answer = told(capsys, *give, "--as-is", "--yes")
    assert answer["written"] is True
    assert (tmp_path / "pool" / "kitchen=boathouse" / "part-0.parquet").exists()
    code, answer = told(capsys, *give, "--withdraw")
    assert answer["withdrawn"] == 1


def test_learn_show_adopt_drop(place, kitchen, tmp_path, capsys):
    pool, file = tmp_path / "pool", tmp_path / "prior.npz"
    write_pool(pool, kitchen, 6, trials=10)
    code, answer = told(capsys, "pool", "learn", pool, "--out", file, "--licence", "for a test")
    assert code == 0
    assert answer["facts"]["kitchens"] == 6
    assert file.exists()
    code, answer = told(capsys, "pool", "adopt", file, "--bench", place)
    assert len(answer["known_flavourings"]) == 6
    assert Bench.open(place).adopted is not None
    code, answer = told(capsys, "pool", "show", "--bench", place)
    assert answer["facts"]["licence"] == "for a test"
    code, answer = told(capsys, "pool", "adopt", "--drop", "--bench", place)
    assert code == 0
    assert Bench.open(place).adopted is None


def test_what_cannot_be_is_refused(place, tmp_path, capsys):
    assert main(["pool", "learn", str(tmp_path / "none")]) == 1
    assert "holds no bases.parquet" in capsys.readouterr().err
    assert main(["pool", "adopt", str(tmp_path / "none"), "--bench", str(place)]) == 1
    assert main(["pool", "contribute", str(tmp_path), "--kitchen", "My Kitchen", "--as-is", "--bench", str(place)]) == 1
    with pytest.raises(SystemExit):
        main(["pool"])
