"""The learned model that a person asks: made from a log, kept, and tried out on cups that it did not see."""

from __future__ import annotations

from pairing.learned.fit import learn, learn_shelf
from pairing.learned.learned import Learned

__all__ = ["Learned", "learn", "learn_shelf"]
