"""Small tables of an invented kitchen, for tests of the store."""

import pandas as pd

from pairing import Bench


def bases():
    return pd.DataFrame({"base_id": ["oat", "soy"], "name": ["Oat drink", "Soy drink"]})


def flavourings():
    return pd.DataFrame(
        {
            "flavouring_id": ["quince", "clove"],
            "name": ["Quince drops", "Clove extract"],
            "label_dose": ["3 drops per 100 ml", "1 g/kg"],
            "drop_mg": [30.0, None],
        }
    )


def readings():
    """Two cups, the first with two flavourings."""
    return pd.DataFrame(
        {
            "trial_id": ["a", "a", "b"],
            "base_id": ["oat", "oat", "soy"],
            "flavouring_id": ["quince", "clove", "quince"],
            "dose_g_per_kg": [1.0, 0.2, 2.0],
            "strength": [3, 2, 4],
            "liking": [7, 7, 5],
        }
    )


def stocked(folder, **options):
    """Make a bench with bases and flavourings."""
    bench = Bench.create(folder, **options)
    bench.load(bases=bases(), flavourings=flavourings())
    return bench


def cup(**columns):
    """One row of readings, with changes; a list makes several rows."""
    row = {"trial_id": "t", "base_id": "oat", "flavouring_id": "quince", "dose_g_per_kg": 1.0} | columns
    n = max(len(v) if isinstance(v, list) else 1 for v in row.values())
    return pd.DataFrame({k: v if isinstance(v, list) else [v] * n for k, v in row.items()})


def only_refusal(cleaned):
    assert len(cleaned.refused) == 1
    return cleaned.refused.iloc[0]
