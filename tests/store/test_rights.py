"""What each role may do in a bench that several share: checked where every change begins, whatever door it came by."""

import itertools

import pandas as pd
import pytest

from pairing import Bench, Cup, Recipe
from pairing.errors import StoreError
from pairing.store.rights import ROLES

SHELF = {
    "bases": pd.DataFrame([{"base_id": "oat", "name": "Oat drink"}]),
    "flavourings": pd.DataFrame([{"flavouring_id": "plum", "name": "Plum drops", "label_dose": "1 g/kg"}]),
}


@pytest.fixture
def whose(place):
    """Open one bench as somebody in some role; the boatman has filled its shelf and logged a cup."""
    name = place()
    bench = Bench.create(name, author="boatman")
    bench.load(**SHELF)
    log(bench, "first")

    def opened(author, role):
        return Bench.open(name, author=author, role=role)

    return opened


def log(bench, trial_id, liking=7, **more):
    cup = Cup("oat", base_g=200.0).add("plum", g=0.2).read({"plum": 3}, liking=liking)
    return bench.log(cup, trial_id=trial_id, ended="right", **more)


def refused(work, *words):
    with pytest.raises(StoreError) as error:
        work()
    assert all(word in str(error.value) + error.value.hint for word in words), error.value


def test_a_taster_logs_and_corrects_own_cups_only(whose):
    cox = whose("cox", "taster")
    log(cox, "mine")
    cox.correct("readings", "mine", {"liking": 8})
    log(cox, "mine", liking=6, on_conflict="revise")
    before = cox.revision
    for change in (
        lambda: cox.correct("readings", "first", {"liking": 1}),
        lambda: log(cox, "first", liking=1, on_conflict="revise"),
        lambda: cox.undo(2),
        lambda: cox.correct("bases", "oat", {"name": "Mine"}),
        cox.declare_food_use,
        lambda: cox.configure(scale_g=1.0),
    ):
        refused(change, "cox is a taster", "change what others wrote", "keeper")
    refused(lambda: cox.load(bases=pd.DataFrame([{"base_id": "rice", "name": "Rice"}])), "import tables", "keeper")
    assert cox.revision == before, "a refused change leaves nothing behind"
    cox.undo()
    assert cox.tables("readings").set_index("trial_id")["liking"].to_dict() == {"first": 7.0, "mine": 8.0}


def test_a_keeper_corrects_others_and_imports_but_neither_merges_nor_erases(whose, tmp_path):
    keeper = whose("coach", "keeper")
    keeper.correct("readings", "first", {"liking": 5})
    keeper.load(bases=pd.DataFrame([{"base_id": "rice", "name": "Rice drink"}]))
    keeper.configure(scale_g=1.0)
    log(whose("cox", "taster"), "hers")
    keeper.undo()
    assert set(keeper.tables("readings")["trial_id"]) == {"first"}
    other = Bench.create(tmp_path / "other")
    refused(lambda: keeper.merge(other), "merge benches", "an owner")
    refused(lambda: keeper.erase_taster("me"), "owner")


def test_a_guest_looks_only(whose):
    guest = whose("visitor", "guest")
    assert len(guest.tables("readings")) == 1
    refused(lambda: log(guest, "mine"), "log cups", "a taster")
    refused(lambda: guest.calibrate("plum", 20, 0.5), "log cups")
    refused(lambda: guest.keep(Recipe("oat", {"plum": 1.0}), name="plum oat"), "log cups")


def test_whoever_opens_a_bench_without_a_role_owns_it(whose, tmp_path):
    other = Bench.create(tmp_path / "other")
    owner = whose("boatman", "owner")
    owner.merge(other)
    assert owner.revision == 2


def test_a_role_that_is_none_is_refused_with_the_nearest(place):
    bench = Bench.create(place())
    with pytest.raises(StoreError, match="no role 'tastr'") as error:
        Bench.open(bench.place, role="tastr")
    assert "taster" in error.value.hint


def test_each_role_may_what_the_one_before_may():
    allowed = list(ROLES.values())
    assert all(a < b for a, b in itertools.pairwise(allowed))
