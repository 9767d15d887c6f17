"""Value objects survive pickling and copying, mappings included."""

import copy
import pickle

from pairing.model.base import Base
from pairing.model.columns import READINGS
from pairing.model.cup import Cup
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster

BASE = Base(base_id="b", name="B", made_from="a:1;water:2", sweeteners="sucralose:3", allergens="milk")
DROPS = Flavouring(flavouring_id="f", name="F", carrier="ethanol:0.4;water", sweeteners="none", tags="x;y")


def test_bases_flavourings_and_shelves_come_back_equal():
    shelf = Shelf.of([BASE], [DROPS], [Taster(taster="ana", body_mass_kg=60)])
    for thing in (BASE, DROPS, shelf):
        assert pickle.loads(pickle.dumps(thing)) == thing
        assert copy.deepcopy(thing) == thing


def test_tables_come_back_equal_and_their_columns_are_looked_up_once():
    assert READINGS.by_name is READINGS.by_name
    assert READINGS.names == tuple(READINGS.by_name)
    for again in (pickle.loads(pickle.dumps(READINGS)), copy.deepcopy(READINGS)):
        assert again == READINGS
        assert again.by_name == READINGS.by_name


def test_readings_come_back_equal():
    reading = Cup("b", 100).add("f", g=1).read(strength={"f": 2}, attributes="sweetness:4").readings[0]
    assert pickle.loads(pickle.dumps(reading)) == reading
