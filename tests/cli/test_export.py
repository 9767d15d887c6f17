"""`pairing export`: what is written, and what is not."""

import json

from pairing.bench import Bench
from pairing.cli import main


def test_export_says_what_it_leaves_behind(tmp_path, capsys):
    def left_behind():
        capsys.readouterr()
        assert main(["export", str(tmp_path / "out"), "--bench", place, "--json"]) == 0
        return json.loads(capsys.readouterr().out)["left_behind"]

    place = str(tmp_path / "b")
    main(["init", "--bench", place, "--currency", "CHF"])
    assert left_behind() == [
        "the settings (pairing init --currency CHF --jurisdiction EU --scale-g 0.1 --amounts drops --volumes metric)"
    ]
    bench = Bench.open(place)
    bench.save_draft("cup-1", {})
    bench.plugin_folder.mkdir(exist_ok=True)
    (bench.plugin_folder / "mine.py").write_text("")
    assert left_behind()[1:] == [
        "1 cup in hand",
        "plugin files (mine.py)",
    ]
