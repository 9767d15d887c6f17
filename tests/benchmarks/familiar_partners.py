"""Recall of familiar partners on a collection: ``python familiar_partners.py [FILE]``.

FILE has one recipe a line, names separated by ``;``; without it, the cookbook of the tests.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from cookbook import COOKBOOK, cosine, popular, recall, recipes

from pairing.graph import from_collections


def main() -> None:
    """Print recall@10 over all and over uncommon hidden names, and the time to learn."""
    cookbook = recipes(Path(sys.argv[1]) if len(sys.argv) > 1 else COOKBOOK)
    methods = {"popularity": popular, "cosine": cosine, "default": lambda train: from_collections(train).rank_partners}
    for name, fit in methods.items():
        everywhere, uncommon = recall(fit, cookbook, range(10))
        print(f"{name:12} {everywhere:.3f} {uncommon:.3f}")
    start = time.perf_counter()
    from_collections(cookbook)
    print(f"learned {len(cookbook)} recipes in {time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
