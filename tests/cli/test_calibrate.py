"""`pairing calibrate`: what it says of the countings that it keeps."""

import pytest

from pairing import Bench
from pairing.cli import main


@pytest.mark.parametrize(("countings", "left"), [(["40=0.93"], 0), (["40=0.93", "40=0,95"], 1)])
def test_it_says_what_undo_will_take_back(tmp_path, capsys, countings, left):
    bench = str(tmp_path / "b")
    main(["init", "--bench", bench])
    plum = [{"flavouring_id": "plum", "name": "Plum drops", "label_dose_g_per_kg": 1.0}]
    Bench.open(bench).load(flavourings=plum)
    assert main(["calibrate", "plum", *countings, "--scale-g", "0,01", "--bench", bench]) == 0
    assert ("pairing undo takes back the last of them" in capsys.readouterr().out) == bool(left)
    assert len(Bench.open(bench).tables("calibrations")) == len(countings)
    assert main(["undo", "--bench", bench]) == 0
    assert len(Bench.open(bench).tables("calibrations")) == left
