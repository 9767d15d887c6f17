"""Make the demo's pool: 40 invented kitchens that taste with the rowing club's bases and flavourings, and their prior.

Each has the hidden truth of the club's kitchen, and differences of its own. Run ``python tests/demo_pool.py FOLDER``:
the pool is written to the folder, and the prior that ``pairing demo --with-pool`` takes to the demo's data.
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import demo_truth as truth
import pandas as pd

import pairing
from pairing.pooling.contribution import PUBLIC_FACTS
from pairing_demo_data import PRIOR, files

KITCHENS, CUPS = 40, 60
OWN_LIKING, OWN_DOSE, NOISE = 0.5, 0.15, 0.9
"""Standard deviations by which kitchens differ in a flavouring (points, natural log of the dose), and of one score."""


def kitchen(number: int) -> Iterator[dict[str, Any]]:
    """Yield the readings of one kitchen: fresh cups of one or two flavourings, judged once."""
    rng = random.Random(number)
    items = list(truth.LABEL_G_PER_KG)
    liking = {item: rng.gauss(0.0, OWN_LIKING) for item in items}
    dose = {item: rng.gauss(0.0, OWN_DOSE) for item in items}
    average, taster = rng.gauss(0.0, 0.4), rng.choice(truth.TASTERS)
    for cup in range(CUPS):
        base = rng.choice(truth.BASES)
        chosen = rng.sample(items, rng.choice((1, 1, 2)))
        given = {item: truth.LABEL_G_PER_KG[item] * math.exp(rng.gauss(0.2, 0.35)) for item in chosen}
        felt = {item: amount * math.exp(-dose[item]) for item, amount in given.items()}
        words = truth.strength(base, felt, taster, rng)
        points = truth.liking(base, felt, taster) + average + sum(liking[item] for item in chosen)
        score = min(9, max(1, round(points + rng.gauss(0.0, NOISE))))
        for item in chosen:
            yield {
                "trial_id": f"c{cup}",
                "base_id": base,
                "flavouring_id": item,
                "dose_g_per_kg": float(f"{given[item]:.4g}"),
                "taster": "t1",
                "session": f"s{cup // 8}",
                "position": cup % 8 + 1,
                "tasted_at": f"2025-{cup // 8 + 1:02d}-01",
                "strength": words[item],
                "liking": score,
                "stepped": "no",
            }


def write(to: Path) -> None:
    """Write the pool."""
    to.mkdir(parents=True, exist_ok=True)
    for name, columns in PUBLIC_FACTS.items():
        table = pd.read_csv(files()[name])
        if name == "flavourings":
            table = table.assign(label_dose_g_per_kg=table["flavouring_id"].map(truth.LABEL_G_PER_KG))
        table[[column for column in columns if column in table]].to_parquet(to / f"{name}.parquet", index=False)
    for number in range(KITCHENS):
        folder = to / f"kitchen=demo-{number:02d}"
        folder.mkdir(exist_ok=True)
        pd.DataFrame(kitchen(number)).to_parquet(folder / "part-0.parquet", index=False)


def main(to: Path) -> None:
    """Write the pool, learn it, write its prior."""
    write(to)
    pairing.learn_pooled(to).prior(licence="invented, for the demo only").save(PRIOR)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
