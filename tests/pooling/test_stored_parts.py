"""Parts are made again wherever they are asked; what a process remembers stays within its budget."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from pairing.pooling import stored_parts
from pairing.pooling.stored_parts import StoredParts

MADE = []


@dataclass(frozen=True, eq=False)
class Numbers:
    """A part of 1000 numbers."""

    values: Any
    memo: dict = field(default_factory=dict)


def make(name):
    MADE.append(name)
    return Numbers(np.full(1000, float(len(name))))


def doubled(part):
    return Numbers(part.values * 2)


def total(part, times):
    part.memo["asked"] = part.memo.get("asked", 0) + 1
    return {"total": part.values.sum() * times, "asked": part.memo["asked"]}


@pytest.fixture(autouse=True)
def forgotten():
    MADE.clear()
    stored_parts.remember(stored_parts.BUDGET_BYTES)
    yield
    stored_parts.remember(stored_parts.BUDGET_BYTES)


@pytest.fixture
def parts(tmp_path):
    return StoredParts.begin(tmp_path, {"a": "a", "b": "bb"}, tasks=2).then(make)


def test_what_is_remembered_is_made_once(parts):
    assert parts.sum(total, 2)["total"] == 6000.0
    assert parts.then(doubled).sum(total, 1)["total"] == 6000.0
    assert sorted(MADE) == ["a", "bb"]


def test_without_room_parts_are_read_again_and_know_what_they_worked_out(parts):
    stored_parts.remember(0)
    assert parts.sum(total, 1)["asked"] == 2
    assert parts.sum(total, 1)["asked"] == 4  # each was asked before
    assert sorted(MADE) == ["a", "bb"]


def test_another_process_finds_the_way_by_itself(parts):
    """Whoever has never heard of the parts makes them from the steps in the work folder."""
    doubled_parts = parts.then(doubled)
    stored_parts.remember(stored_parts.BUDGET_BYTES)
    MADE.clear()
    assert doubled_parts.sum(total, 1)["total"] == 6000.0
    assert sorted(MADE) == ["a", "bb"]


def test_pairs_of_what_was_made_of_a_part(parts):
    both = parts.beside(parts.then(doubled))
    assert both.sum(lambda pair: {"gap": (pair[1].values - pair[0].values).sum()})["gap"] == 3000.0


def test_old_steps_make_room_for_new_ones(parts):
    stored_parts.remember(20_000)
    later = parts
    for _ in range(5):
        later = later.then(doubled)
        later.sum(total, 1)
    held = stored_parts._MEMORY
    assert held.total <= 20_000
    assert held.total == sum(sum(arrays.values()) for arrays in held.arrays.values())
