"""Fields that are given as a cell is written, and hold what it means."""

from __future__ import annotations

import copy
import pickle
from dataclasses import fields, replace

import pytest

from pairing.model.base import Base
from pairing.model.brief import Brief
from pairing.model.flavouring import Flavouring
from pairing.model.taster import Taster


@pytest.mark.parametrize("tags", ["grain;thin", ["thin", "grain"], {"grain", "thin"}, frozenset({"grain", "thin"})])
def test_words_are_a_set_however_they_were_given(tags):
    assert Base(base_id="oat", name="Oat", tags=tags).tags == frozenset({"grain", "thin"})


def test_what_is_not_given_is_unknown_and_stays_apart_from_none_of_them():
    assert Base(base_id="oat", name="Oat").allergens is None
    assert Base(base_id="oat", name="Oat", allergens="none").allergens == frozenset()
    assert Taster(taster="ana").avoid is None
    assert Brief().avoid_allergens == frozenset()
    assert Brief().already == ()


def test_amounts_are_a_mapping():
    plum = Flavouring(flavouring_id="plum", name="Plum", carrier="ethanol:0.4;water")
    assert dict(plum.carrier) == {"ethanol": 0.4, "water": None}


@pytest.mark.parametrize(
    "thing",
    [
        Base(base_id="oat", name="Oat", made_from="powder:90;water:350", tags="grain"),
        Flavouring(flavouring_id="plum", name="Plum", carrier="ethanol:0.4", allergens="milk"),
        Brief(bases="oat", avoid_allergens="milk", already={"ana": {"caffeine": 80}}),
    ],
)
def test_they_are_fields_like_any_other(thing):
    for same in (replace(thing), copy.copy(thing), pickle.loads(pickle.dumps(thing))):
        assert same == thing
        assert repr(same) == repr(thing)
    assert {f.name: f.default for f in fields(thing)}.get("tags") is None
    with pytest.raises(AttributeError):
        thing.tags = "other"
