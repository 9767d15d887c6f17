"""A kept recipe is tasted again when its evidence is thin or old, or something changed; a standing cup in its time."""

from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest

from pairing import Bench, Cup, Recipe
from pairing.cli.entry import main
from pairing.cli.recipe import drunk_whole

NOW = datetime(2026, 6, 1, 18, tzinfo=UTC)
OAT = pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"], "allergens": ["gluten"]})
DROPS = pd.DataFrame({"flavouring_id": ["plum", "clove"], "name": ["Plum", "Clove"], "label_dose": "2 g/kg"})


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "kitchen")
    bench.load(bases=OAT, flavourings=DROPS.assign(food_use="yes", allergens="none"))
    bench.keep(Recipe("oat", {"plum": 2.0}), name="dusk")
    return bench


def poured(bench, n, day, dose=2.0, taster="ana", stepped="no"):
    rows = [
        {"trial_id": f"{day}-{i}-{taster}", "base_id": "oat", "flavouring_id": "plum", "dose_g_per_kg": dose,
         "taster": taster, "strength": 3, "liking": 7, "stepped": stepped, "tasted_at": f"{day}T18:00:00+00:00"}
        for i in range(n)
    ]  # fmt: skip
    assert bench.load(readings=pd.DataFrame(rows)).refused.empty


def why(bench, *tasters, now=NOW):
    due = bench.taste_again(tasters, now)
    return {one.name or one.trial_id: one.why for one in due}


def test_thin_evidence_and_old(bench):
    assert why(bench) == {"dusk@1": ("thin",)}
    poured(bench, 2, "2026-05-30")
    poured(bench, 3, "2026-05-29", stepped="yes")
    poured(bench, 3, "2026-05-28", dose=3.5)
    assert why(bench) == {"dusk@1": ("thin",)}
    poured(bench, 1, "2026-05-31", dose=2.2)
    assert why(bench) == {}
    assert why(bench, now=NOW + timedelta(days=100)) == {"dusk@1": ("old",)}


def test_a_cup_told_in_amounts_counts_by_its_dose(bench):
    rows = [
        {"trial_id": f"t{i}", "base_id": "oat", "base_g": 250, "flavouring_id": "plum", "amount": "0.5 g",
         "strength": 3, "liking": 7, "stepped": "no", "tasted_at": "2026-05-30T18:00:00+00:00", "glass": "full"}
        for i in range(3)
    ]  # fmt: skip
    bench.load(readings=pd.DataFrame(rows))
    assert why(bench) == {}
    assert drunk_whole(bench, Recipe("oat", {"plum": 2.0}))
    assert not drunk_whole(bench, Recipe("oat", {"plum": 3.0}))


def test_another_bottle_a_newer_base_and_somebody_new(bench):
    poured(bench, 3, "2026-05-20")
    assert why(bench, "ana") == {}
    assert why(bench, "ana", "ben") == {"dusk@1": ("taster",)}
    bench.buy("plum", "30 ml", bought_at="2026-05-25", opened_at="2026-05-26")
    (due,) = bench.taste_again((), NOW)
    assert (due.why, due.items) == (("lot",), ("plum",))
    bench.load(bases=OAT.assign(base_id="oat-2", version_of="oat"))
    assert why(bench) == {"dusk@1": ("lot", "base")}
    poured(bench, 1, "2026-05-30")
    assert why(bench) == {"dusk@1": ("base",)}


def test_what_is_retired_or_an_idea_is_not_due(bench):
    bench.keep(Recipe("oat", {"plum": 2.0}), name="dusk", status="retired")
    bench.keep(Recipe("oat", {"clove": 1.0}), name="dawn", status="idea")
    assert why(bench) == {}


def test_what_cannot_be_made_is_not_due(bench):
    bench.buy("oat", "1 l", made_at="2026-05-20", use_by="2026-05-25")
    assert why(bench) == {}
    assert why(bench, now=datetime(2026, 5, 25, 12, tzinfo=UTC)) == {"dusk@1": ("thin",)}


@pytest.mark.parametrize(
    ("minutes", "due"),
    [(1, None), (3, 2), (20, 15), (23 * 60, 15), (25 * 60, 1440), (72 * 60, 4320), (74 * 60, None)],
)
def test_a_standing_cup_is_due_after_minutes_and_days_and_never_later(bench, minutes, due):
    mixed = (NOW - timedelta(minutes=minutes)).isoformat()
    cup = Cup("oat", base_g=200, at=mixed).add("plum", g=0.4, at=mixed).read({"plum": 3}, taster="ana", tasted_at=mixed)
    bench.log(cup, ended="right", trial_id="stands")
    bench.keep(Recipe("oat", {"plum": 2.0}), name="dusk", status="retired")
    found = bench.taste_again((), NOW)
    assert [one.minutes for one in found] == ([] if due is None else [due])


def test_a_cup_that_is_drunk_up_or_past_its_day_is_not_due(bench):
    mixed = (NOW - timedelta(hours=25)).isoformat()
    cup = Cup("oat", base_g=200, at=mixed).add("plum", g=0.4, at=mixed)
    bench.log(cup.sip(190).read({"plum": 3}, tasted_at=mixed), ended="right", trial_id="gone")
    bench.log(cup.read({"plum": 3}, tasted_at=mixed), ended="right", trial_id="stands")
    assert "stands" in why(bench)
    assert "gone" not in why(bench)
    bench.buy("oat", "1 l", use_by="2026-05-31", bought_at="2026-05-20")
    assert "stands" not in why(bench)


def test_the_command_says_what_is_due(bench, capsys):
    assert main(["suggest", "--bench", str(bench.place), "--re-taste"]) == 0
    said = capsys.readouterr().out
    assert "dusk@1" in said
    assert "no cup poured straight to these doses" in said
    assert "Of 2 of 2 nobody tasted a cup an hour or more after mixing: unknown." in said
