"""Balance before aroma on the page: sweet, salt and acid first, kept as a base, and sweet again."""

import pandas as pd
from tapping import asked, choose, events, finish, pour, press

from pairing.bench import Bench


def test_the_seasoning_of_a_cup_is_kept_as_a_base(app):
    at = app("one", "bench")
    bench = Bench.open(at.bench_path)
    bench.correct("flavourings", "plum", {"role": "seasoning", "sodium_mg_per_g": 80})
    at.run()
    pour(at)
    finish(at)
    press(at, "Keep the seasoned base")
    shelf = Bench.open(at.bench_path).shelf()
    kept = shelf.bases[next(i for i in shelf.bases if i.endswith("-seasoned"))]
    assert kept.version_of == "oat"
    assert kept.made_from["plum"] > 0


def test_once_the_aroma_is_in_the_sweetener_is_offered_again(app):
    at = app("one", "bench")
    leaf = {"flavouring_id": "leaf", "name": "Sweet leaf", "label_dose": "1 g/kg", "food_use": "yes"}
    Bench.open(at.bench_path).load(flavourings=pd.DataFrame([{**leaf, "role": "seasoning"}]))
    at.run()
    press(at, "A new cup")
    choose(at, "oat")
    at.pills[0].set_value(["plum", "leaf"]).run()
    press(at, "Next")
    assert events(at)[-1]["flavouring_ids"] == ["leaf", "plum"]
    press(at, "I poured")
    for _ in range(2):
        press(at, "Leave out")
    press(at, "More Sweet leaf")
    assert "Sweet leaf" in asked(at)
    press(at, "Leave out")
    assert not any("sweet enough" in h.proto.body for h in at.get("html")), "asked once"
