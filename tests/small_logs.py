"""A small invented kitchen and short logs of it, written out cup by cup, for tests of what is learned."""

import math
from collections.abc import Mapping

import pandas as pd

import pairing

BASES = pd.DataFrame(
    {
        "base_id": ["oat", "milk", "rice"],
        "name": ["Oat drink", "Milk", "Rice drink"],
        "fat_g_per_100g": [1.0, 3.5, 0.5],
        "protein_g_per_100g": [1.0, 3.4, 0.3],
        "sugars_g_per_100g": [4.0, 4.8, 6.0],
    }
)
FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["quince", "clove", "smoke", "rose"],
        "name": ["Quince drops", "Clove extract", "Smoke", "Rose water"],
        "label_dose_g_per_kg": [2.0, 1.0, 0.5, 4.0],
        "family": ["fruit", "spice", "roast", "flower"],
    }
)


def cup(base_id, doses, strength=None, liking=None, taster="me", trial_id=None, **more):
    """Rows of one reading; ``strength`` is one word for all flavourings or a mapping."""
    words = strength if isinstance(strength, Mapping) else dict.fromkeys(doses, strength)
    common = {"trial_id": trial_id, "base_id": base_id, "taster": taster, "liking": _number(liking), **more}
    if not doses:
        return [{**common, "flavouring_id": None, "dose_g_per_kg": 0.0, "strength": math.nan}]
    return [
        {**common, "flavouring_id": f, "dose_g_per_kg": d, "strength": _number(words.get(f))} for f, d in doses.items()
    ]


def _number(value):
    return math.nan if value is None else float(value)


def table(*cups, prefix="t"):
    """One table of readings; cups without a trial_id get one."""
    rows = []
    for i, part in enumerate(cups):
        name = f"{prefix}{i:03d}"
        rows += [{**row, "trial_id": row["trial_id"] or name} for row in part]
    columns = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "taster", "strength", "liking"]
    return pd.DataFrame(rows) if rows else pd.DataFrame(columns=columns)


def learn(*cups, bases=BASES, flavourings=FLAVOURINGS, **options):
    """Learn from cups, given one after the other or as a table."""
    readings = cups[0] if len(cups) == 1 and isinstance(cups[0], pd.DataFrame) else table(*cups)
    return pairing.learn(bases, flavourings, readings, random_state=0, **options)


def needed(model, base_id="oat", flavouring_id="quince", **options):
    """One row of the needed doses."""
    return model.needed_dose([base_id], [flavouring_id], **options).iloc[0]
