"""Bases and flavourings written as rows come back as they were."""

from dataclasses import fields

import pytest

from pairing import Bench
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.rows import as_tables
from pairing.model.shelf import Shelf
from pairing.plan.dilution import predilute

OAT = Base(
    base_id="oat", name="Oat drink", allergens=frozenset({"oat"}), fat_g_per_100g=1.5, sweeteners={"sucralose": 12.5}
)
CLOVE = Flavouring(flavouring_id="clove", name="Clove", label_dose_g_per_kg=0.2, sweeteners={}, allergens=frozenset())


def same(one, other):
    return all(getattr(one, f.name) == getattr(other, f.name) for f in fields(one))


def test_what_is_kept_is_what_was_given(tmp_path):
    thin = predilute(CLOVE, OAT, 10, Shelf.of([OAT], [CLOVE]))
    bench = Bench.create(tmp_path / "bench")
    report = bench.keep(OAT, CLOVE, thin)
    assert report.accepted == {"bases": 1, "flavourings": 2}
    shelf = bench.shelf()
    assert same(shelf.base("oat"), OAT)
    assert same(shelf.flavouring("clove"), CLOVE)
    assert same(shelf.flavouring("clove-1in10-oat"), thin)


def test_another_content_under_the_same_id_is_refused(tmp_path):
    bench = Bench.create(tmp_path / "bench")
    bench.keep(OAT)
    report = bench.keep(Base(base_id="oat", name="Another oat drink"))
    assert len(report.refused) == 1
    assert bench.shelf().base("oat").name == "Oat drink"


@pytest.mark.parametrize(("items", "tables"), [((OAT,), {"bases"}), ((CLOVE,), {"flavourings"}), ((), set())])
def test_a_table_without_rows_is_left_out(items, tables):
    assert set(as_tables(items)) == tables
