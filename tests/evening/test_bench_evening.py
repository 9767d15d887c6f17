"""A bench plans its evening from its log, and anew after every cup."""

import pandas as pd
import pytest

from pairing import Bench, Brief, Cup
from pairing.errors import TableError, UnknownIdError

BASES = pd.DataFrame({"base_id": ["rice"], "name": ["Rice drink"], "energy_kcal_per_100g": [50], "allergens": ["none"]})
FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["plum", "pear", "mint", "quince"],
        "name": ["Plum drops", "Pear drops", "Mint drops", "Quince drops"],
        "label_dose": ["2 g/kg"] * 4,
        "food_use": "yes",
        "allergens": "none",
        "energy_kcal_per_g": 1,
    }
)


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "kitchen")
    bench.load(
        bases=BASES, flavourings=FLAVOURINGS, tasters=pd.DataFrame({"taster": ["ana"], "avoid_allergens": "none"})
    )
    return bench


def cups(evening):
    return [tuple(one.recipe.doses) for one in evening.cups]


def test_it_is_planned_anew_after_every_cup(bench):
    start = "2026-01-01T00:00:00+00:00"
    first = bench.evening(["ana"], Brief(max_flavourings=1), cups=3, since=start)
    assert first.warm_up is not None
    assert len(first.cups) == 3
    (tasted,) = first.cups[0].recipe.doses
    bench.log(Cup("rice", base_g=100).add(tasted, g=0.2).read({tasted: 3}, taster="ana"), ended="right", liking=6)
    then = bench.evening(["ana"], Brief(max_flavourings=1), cups=3, since=start)
    assert (then.warm_up, then.tasted, len(then.cups)) == (None, 1, 2)
    assert (tasted,) not in cups(then)
    assert bench.evening(["ana"], since="2999-01-01").tasted == 0


def test_what_must_be_used_comes_in_and_only_what_is_at_hand(bench, tmp_path):
    evening = bench.evening(brief=Brief(max_flavourings=1), cups=1, use_first=["quince"])
    assert cups(evening) == [("quince",)]
    near = (pd.Timestamp.now() + pd.Timedelta(days=3)).date().isoformat()
    bench.buy("pear", "30 ml", best_before=near)
    assert cups(bench.evening(brief=Brief(max_flavourings=1), cups=1)) == [("pear",)]
    bench.save_set("box", ["plum", "mint"])
    assert set(cups(bench.evening(brief=Brief(max_flavourings=1), only="box"))) == {("plum",), ("mint",)}
    assert Bench.open(bench.place).sets() == {"box": ["plum", "mint"]}
    bench.export(tmp_path / "out", everything=True)
    again = Bench.create(tmp_path / "again")
    again.load(tmp_path / "out")
    assert again.sets() == bench.sets()
    bench.save_set("box", [])
    with pytest.raises(UnknownIdError, match="no saved set 'box'"):
        bench.evening(only="box")


def test_a_bottle_is_entered_as_bought(bench):
    assert bench.buy("plum", "30 ml", price=12).lot == "1"
    assert bench.buy("plum", "30 ml").lot == "2"
    assert bench.buy("rice", "1 l", made_at="2026-01-01", use_by="2026-01-03").bought_at is None
    assert bench.stock()["held_g"].tolist()[:2] == [30, 30]
    bench.undo()
    assert len(bench.stock()) == 2
    for facts, said in (({"lot": "1"}, "has a lot '1' already"), ({"colour": "red"}, "a lot has no colour")):
        with pytest.raises(TableError, match=said):
            bench.buy("plum", "30 ml", **facts)
    with pytest.raises(UnknownIdError, match="no base or flavouring 'plm'"):
        bench.buy("plm", "30 ml")
