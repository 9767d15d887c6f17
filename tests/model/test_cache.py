"""What is worked out once is worked out once, is each object's own, and goes with it."""

import gc

from pairing.model.base import Base
from pairing.model.cache import IdentityCache
from pairing.model.shelf import Shelf


def shelf():
    return Shelf.of([Base(base_id="oat", name="Oat")], [])


def test_it_is_made_once_for_every_object_though_they_are_equal():
    one, other, kept = shelf(), shelf(), IdentityCache()
    assert one == other
    assert kept.of((one,), list) is kept.of((one,), list)
    assert kept.of((one,), list) is not kept.of((other,), list)
    assert kept.of((one, other), list) is not kept.of((other, one), list)
    assert kept.of((one,), list, "US") is not kept.of((one,), list, "EU")


def test_it_is_forgotten_with_the_first_of_its_objects():
    one, other, kept = shelf(), shelf(), IdentityCache()
    kept.of((one, other), list)
    kept.of((other,), list)
    del one
    gc.collect()
    assert len(kept) == 1
    del other
    gc.collect()
    assert len(kept) == 0


def test_many_short_lived_objects_never_see_one_anothers_answers():
    kept = IdentityCache()
    for n in range(2000):
        assert kept.of((shelf(),), lambda n=n: n) == n
    gc.collect()
    assert len(kept) == 0
