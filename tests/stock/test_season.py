"""Stock over a season: what is reckoned is what a careful hand would have kept on paper, to a milligram."""

import numpy as np
import pandas as pd
import pytest

from pairing import Bench, Brief, Cup
from pairing.errors import BriefError
from pairing.stock.held import in_stock_g
from pairing.store import frames

CUPS = 223
ITEMS = ("quince", "clove", "mint")


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "b")
    bench.load(
        bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"], "density_g_per_ml": [1.03]}),
        flavourings=pd.DataFrame(
            {"flavouring_id": ITEMS, "name": ITEMS, "drop_mg": 25.0, "density_g_per_ml": 0.95, "label_dose": "1 g/kg"}
        ),
        lots=pd.DataFrame(
            {"item_id": [*ITEMS, "oat"], "lot": "A", "size": [*["500 ml"] * 3, "200 kg"], "tare_g": [21.5] * 3 + [None]}
        ),
    )
    return bench


def held(bench):
    return bench.stock().set_index("item_id")["held_g"].to_dict()


@pytest.mark.slow
def test_a_season_with_corrections_and_undos_leaves_what_a_hand_kept(bench):
    rng = np.random.default_rng(7)
    paper = {item: 475.0 for item in ITEMS} | {"oat": 200_000.0}
    corrected = undone = 0
    for n in range(CUPS):
        item = ITEMS[n % 3]
        drops, base_g = int(rng.integers(3, 40)), float(rng.integers(150, 400))
        day = f"2026-{3 + n // 60:02d}-{1 + n % 28:02d}T18:{n % 60:02d}"
        cup = Cup("oat", base_g=base_g, trial_id=f"cup-{n}", at=day)
        log = cup.add(item, drops=drops, at=day).sip(g=12).add("mint", g=0.25, at=day)
        bench.log(log, liking=6)
        if n % 11 == 3:  # it was not so many drops
            drops -= 2
            log = cup.add(item, drops=drops, at=day).sip(g=12).add("mint", g=0.25, at=day)
            bench.log(log, liking=6, on_conflict="revise")
            corrected += 1
        if n % 17 == 5:  # a correction that is taken back leaves the cup as it was
            bench.log(log.add("clove", g=3.0, at=day), liking=6, on_conflict="revise")
            bench.undo()
            undone += 1
        if n % 13 == 8:  # it never was
            bench.log(Cup("oat", base_g=300, at=day).add(item, g=9.0, at=day), liking=2)
            bench.undo()
            undone += 1
        paper["oat"] -= base_g
        paper[item] -= 0.025 * drops
        paper["mint"] -= 0.25
    assert min(corrected, undone) > 12
    assert held(bench) == pytest.approx(paper, abs=0.001)


def test_a_weighing_settles_what_was_taken_before_it(bench):
    bench.log(Cup("oat", base_g=300, at="2026-03-01").add("quince", g=5.0, at="2026-03-01T10:00"), liking=6)
    left = bench.weigh("quince", 21.5 + 460.0, at="2026-03-01T12:00")
    assert left.held_g == pytest.approx(460.0)
    bench.log(Cup("oat", base_g=300, at="2026-03-02").add("quince", g=2.5, at="2026-03-02"), liking=6)
    assert held(bench)["quince"] == pytest.approx(457.5)
    bench.undo()
    bench.undo()
    assert held(bench)["quince"] == pytest.approx(470.0)


def test_what_was_split_off_is_taken_once(bench):
    stock = Cup("oat", base_g=400).add("quince", g=4.0)
    part, rest = stock.split(g=100)
    bench.log(part.add("clove", g=0.5), liking=5)
    assert held(bench)["quince"] == pytest.approx(471.0), "the cup that it came from is not logged"
    bench.log(rest.add("mint", g=1.0), liking=6)
    last = bench.log(rest.split(g=100)[0].add("clove", g=0.25), liking=6)
    assert last
    assert held(bench) == pytest.approx({"quince": 471.0, "clove": 474.25, "mint": 474.0, "oat": 199_600.0})


def test_a_cup_that_only_has_readings_took_its_highest_dose(bench):
    row = {"trial_id": "old", "base_id": "oat", "flavouring_id": "quince", "base_g": 396.0, "tasted_at": "2026-03-01"}
    bench.load(
        readings=pd.DataFrame([{**row, "dose_g_per_kg": dose, "reading": n + 1} for n, dose in enumerate([5, 10])])
    )
    assert held(bench)["quince"] == pytest.approx(471.0)
    assert held(bench)["oat"] == pytest.approx(200_000 - 396)


def test_a_pre_dilution_takes_of_what_it_is_made_of(bench):
    thin = {"flavouring_id": "clove-1in10-oat", "name": "Thin clove", "version_of": "clove", "label_dose": "9 g/kg"}
    bench.load(flavourings=pd.DataFrame([thin]))
    bench.log(Cup("oat", base_g=300).add("clove-1in10-oat", g=5.0), liking=6)
    assert held(bench) == pytest.approx({"quince": 475, "clove": 474.5, "mint": 475, "oat": 200_000 - 304.5})


def test_planning_and_prices_ask_the_lots(bench):
    bench.correct("lots", ("quince", "A"), {"price": 95.0})
    shelf = bench.shelf()
    assert in_stock_g(shelf.flavouring("quince"), shelf) == pytest.approx(475.0)
    assert shelf.flavouring("quince").cost_per_g == pytest.approx(0.2)
    bench.log(Cup("oat", base_g=300).add("quince", g=474.9), liking=6)
    with pytest.raises(BriefError, match="stock"):
        bench.learn().suggest(Brief(must_have=["quince"], max_flavourings=1))


def test_cups_of_what_has_no_lot_are_not_read(bench, monkeypatch):
    bench.load(
        flavourings=pd.DataFrame({"flavouring_id": ["rose"], "name": ["Rose"], "label_dose": ["1 g/kg"]}),
        bases=pd.DataFrame({"base_id": ["rye"], "name": ["Rye drink"]}),
    )
    bench.log(Cup("rye", base_g=300).add("mint", g=0.3).sip(g=10).read(liking=5))
    read = []

    def fetch(tx, spec, *asked, do=frames.fetch):
        found = do(tx, spec, *asked)
        read.append((spec.name, len(found)))
        return found

    monkeypatch.setattr(frames, "fetch", fetch)
    seen = []
    for n in (1, 40):
        trials = [f"other-{n}-{i}" for i in range(n)]
        cups = pd.DataFrame({"trial_id": trials, "base_id": "rye", "flavouring_id": "rose", "dose_g_per_kg": 1.0})
        bench.load(readings=cups)
        read.clear()
        mint = bench.shelf().held_g["mint"]
        seen.append((round(mint, 6), [rows for rows in read if rows[0] in ("steps", "readings")]))
    assert seen[0] == seen[1] == (round(500 * 0.95 - 0.3, 6), [("steps", 3), ("readings", 1)])
