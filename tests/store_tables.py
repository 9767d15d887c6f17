"""Small tables of an invented kitchen, for tests of the store."""

import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import pandas as pd

from pairing import Bench
from pairing.store import places
from pairing.store.database import FILE_NAME
from pairing.store.ledger import now


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


def second_round():
    """Lots, weighings, recipes and photos, and the columns that came with them."""
    lot = {"item_id": "quince", "lot": "0042"}
    more = {"flavouring_id": "quince", "role": "flavour", "wheel": "fruit;jam;honey"}
    return {
        "flavourings": pd.DataFrame([{**more, "flavouring_id": "salt", "name": "Salt", "label_dose": "1 g/kg"}]),
        "tasters": pd.DataFrame({"taster": ["ana"], "age_years": [15], "asks_professional": ["no"]}),
        "readings": cup(trial_id="second", lot="0042", glass="full", liking=6),
        "lots": pd.DataFrame(
            [
                {**lot, "size": "30 ml", "tare_g": 24.5, "price": 6.9, "bought_at": "2026-03-01", "note": "=blue cap"},
                {"item_id": "oat", "lot": "A", "opened_at": "2026-03-02T18:00", "best_before": "2026-04-01"}
                | {"made_at": "2026-03-02", "use_by": "2026-03-05"},
            ]
        ),
        "weighings": pd.DataFrame([{**lot, "at": "2026-03-01T19:00", "gross_g": 54.5}]),
        "recipes": pd.DataFrame(
            [
                {"recipe_id": "porch", "version": 1, "base_id": "oat", "doses": "quince=1.6;clove=0.2"},
                {"recipe_id": "porch", "version": 2, "base_id": "oat", "doses": "quince=1.4", "status": "trying"},
            ]
        ),
        "photos": pd.DataFrame([{"photo_id": "label", "item_id": "quince", "bytes": bytes(range(256)) * 80}]),
    }


_FILES = {}


def copied(make, place, **options):
    """Return a bench as ``make`` makes it: in a folder a copy of one made before, whose changes are of now."""
    if not isinstance(place, Path):
        return make(place, **options)
    key = (make.__module__, make.__name__, *sorted(options.items()))
    if key not in _FILES:
        with tempfile.TemporaryDirectory() as folder:
            made = make(Path(folder) / "bench", **options)
            (file,) = (p for p in Path(made.place).iterdir() if p.is_file())  # whole: no log of writes beside it
            _FILES[key] = file.read_bytes()
    places.prepare(place)
    (place / FILE_NAME).write_bytes(_FILES[key])
    with closing(sqlite3.connect(place / FILE_NAME)) as file, file:
        for (batch,) in file.execute("SELECT batch FROM revisions ORDER BY batch").fetchall():
            file.execute("UPDATE revisions SET at = ? WHERE batch = ?", (now(), batch))
    return Bench.open(place, author=options.get("author", "me"))


def stocked(place, **options):
    """Make a bench with bases and flavourings."""
    return copied(_stocked, place, **options)


def _stocked(place, **options):
    bench = Bench.create(place, **options)
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
