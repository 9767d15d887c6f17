"""What is no list of ids, no seed or no number is refused in words, by name."""

import numpy as np
import pytest

from pairing import Bench, Brief
from pairing.errors import PairingError
from pairing.model.base import Base
from pairing.model.chance import generator
from pairing.model.flavouring import Flavouring


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    bench = Bench.create(tmp_path_factory.mktemp("types") / "bench")
    bench.keep(
        Base(base_id="oat", name="Oat drink"),
        Flavouring(flavouring_id="plum", name="Plum", label_dose_g_per_kg=2.0, food_use="yes"),
    )
    return bench


WRONG = {
    "bases is 3": lambda bench: Brief(bases=3),
    "must_have is 5": lambda bench: Brief(must_have=5),
    "tasters is 1.5": lambda bench: Brief(tasters=1.5),
    "ids is 3": lambda bench: bench.learn().needed_dose(3),
    "random_state is 'x'": lambda bench: bench.learn().suggest(Brief(), 1, random_state="x"),
    "random_state is -1": lambda bench: bench.learn().suggest(Brief(), 1, random_state=-1),
    "fat_g_per_100g is True": lambda bench: Base(base_id="b", name="B", fat_g_per_100g=True),
    "drops: 'x' is not a number": lambda bench: bench.calibrate("plum", "x", 1.0),
    "grams: 'heavy' is not a number": lambda bench: bench.calibrate("plum", 40, "heavy"),
}


@pytest.mark.parametrize("said", WRONG)
def test_a_wrong_type_is_named(said, bench):
    with pytest.raises(PairingError, match=said) as caught:
        WRONG[said](bench)
    assert caught.value.hint


def test_a_generator_is_taken_as_it_is():
    rng = np.random.default_rng(3)
    assert generator(rng) is rng
