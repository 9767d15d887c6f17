"""Recipes kept by name: versions that are never overwritten, and names that cannot be mistaken."""

import pandas as pd
import pytest
from store_tables import bases, flavourings, stocked

from pairing import Bench, Recipe
from pairing.blind.plan import plan
from pairing.errors import TableError, UnknownIdError
from pairing.model.kept_recipe import recipe_kept, recipes_meant

FIRST, SECOND = Recipe("oat", {"quince": 1.6}), Recipe("oat", {"quince": 1.4, "clove": 0.1})


@pytest.fixture
def bench(tmp_path):
    bench = Bench.create(tmp_path / "b")
    bench.load(bases=bases(), flavourings=flavourings())
    return bench


def test_keeping_again_is_the_next_version_and_the_old_one_stays(bench):
    assert bench.keep(FIRST, name="dusk", status="trying") == "dusk@1"
    assert bench.keep(SECOND, name="dusk", note="rounder") == "dusk@2"
    rows = bench.tables("recipes")
    assert [recipe_kept(rows, text) for text in ("dusk", "dusk@1", "dusk@2")] == [SECOND, FIRST, SECOND]
    assert rows[["status", "parent", "note"]].values.tolist() == [["trying", None, None], ["kept", "dusk@1", "rounder"]]


def test_the_very_same_again_changes_nothing(bench):
    before = (bench.keep(FIRST, name="dusk"), bench.revision)
    assert (bench.keep(FIRST, name="dusk"), bench.revision) == before


def test_a_version_is_neither_corrected_nor_lost_by_an_undo_of_the_next(bench):
    bench.keep(FIRST, name="dusk")
    with pytest.raises(TableError, match="never changed"):
        bench.correct("recipes", ("dusk", 1), {"doses": "quince=9"})
    bench.keep(SECOND, name="dusk")
    bench.undo()
    assert recipe_kept(bench.tables("recipes"), "dusk") == FIRST


@pytest.mark.parametrize("name", ["oat", "a|b", "dusk@2", " "])
def test_a_name_that_could_mean_something_else_is_refused(bench, name):
    with pytest.raises(TableError):
        bench.keep(FIRST, name=name)


@pytest.mark.parametrize("recipe", [Recipe("oat", {"quince": None}), Recipe("oat", {"pear": 1.0}), Recipe("rye", {})])
def test_a_recipe_that_cannot_be_made_is_not_kept(bench, recipe):
    with pytest.raises(TableError):
        bench.keep(recipe, name="dusk")
    assert bench.tables("recipes").empty


def test_a_version_that_is_not_there_is_told(bench):
    bench.keep(FIRST, name="dusk")
    with pytest.raises(UnknownIdError, match="dusk has no version '7'"):
        recipe_kept(bench.tables("recipes"), "dusk@7")
    assert recipe_kept(bench.tables("recipes"), "dawn") is None
    with pytest.raises(UnknownIdError, match=r"'dsuk@1' is no kept recipe .* did you mean dusk"):
        recipes_meant(["dsuk@1"], bench.tables("recipes"))


def test_no_version_is_overwritten_by_a_load(tmp_path):
    bench = stocked(tmp_path / "k")
    bench.keep(Recipe("oat", {"quince": 1.6}), name="dusk")
    row = {"recipe_id": "dusk", "version": 1, "base_id": "oat", "doses": "quince=2", "status": "kept"}
    report = bench.load(recipes=pd.DataFrame([row]), on_conflict="revise")
    assert report.refused["remedy"].tolist() == ["give it the next version"]
    report = bench.load(
        recipes=pd.DataFrame([{**row, "doses": "quince=1.6", "status": "retired"}]), on_conflict="revise"
    )
    assert report.revised == {"recipes": 1}
    assert bench.load(recipes=pd.DataFrame([{**row, "version": 2}])).accepted == {"recipes": 1}


def test_a_name_stands_for_its_recipe_in_python_too(bench):
    bench.keep(FIRST, name="dusk")
    bench.keep(SECOND, name="dusk")
    assert [bench.recipe(text) for text in ("dusk", "dusk@1", "oat|quince=1.6")] == [SECOND, FIRST, FIRST]
    check = plan("dusk@1", "dusk", kept=bench.tables("recipes"), random_state=0)
    assert (check.a, check.b) == (FIRST, SECOND)
    assert {need.item_id for need in bench.shopping_list(["dusk"], 1)} == {"oat", "quince", "clove"}
    with pytest.raises(UnknownIdError, match="no version '9'"):
        plan("dusk@9", "dusk", kept=bench.tables("recipes"))
    with pytest.raises(UnknownIdError, match="no kept recipe"):
        bench.recipe("dawn")


def test_a_version_whose_flavouring_is_gone_says_which(bench):
    bench.keep(SECOND, name="dusk")
    shelf = bench.shelf()
    bench.shelf = lambda: type(shelf).of(shelf.bases.values(), [shelf.flavouring("quince")])
    with pytest.raises(UnknownIdError, match="no flavouring 'clove'"):
        bench.recipe("dusk")
