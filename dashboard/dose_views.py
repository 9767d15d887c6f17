"""What the Doses page shows: a flavouring's curve, base factors, the table of needed doses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.model.fields import is_missing
from pairing.model.recipe import Recipe
from pairing.report.compared import factors_in_words, not_reached
from pairing.report.labels import labels
from pairing_dashboard import charts, parts
from pairing_dashboard.wording import count, interval, number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.shelf import Shelf

__all__ = ["bases", "everything", "one"]

MOST_CUPS = 400
"""So many cups are marked beside a curve, the latest."""


def one(bench: Bench, model: Learned) -> None:
    """Draw strength against dose for one flavouring in one base."""
    shelf = model.shelf
    left, right = st.columns(2)
    flavourings = {i: f.name for i, f in shelf.flavourings.items()}
    in_bases = {i: b.name for i, b in shelf.bases.items()}
    with left:
        flavouring = st.selectbox("Flavouring", list(flavourings), format_func=flavourings.__getitem__)
    with right:
        base = st.selectbox("Base", list(in_bases), format_func=in_bases.__getitem__)
    row = next(parts.rows(model.needed_dose([base], [flavouring])))
    parts.facts(
        {
            "Needed dose, 80 % interval": said_dose(row),
            "Beside the label": ratio(row.label_ratio),
            "Rests on": count(int(row.readings), "reading"),
        }
    )
    for label in labels(shelf, [base], [flavouring]):
        parts.label(label.direction)
    log_means, log_sds = model.dose_posterior([base], [(flavouring,)])
    about = f"Strength of {flavourings[flavouring]} in {in_bases[base]} against dose, with 50 % and 80 % bands"
    readings = _readings(bench, shelf, base, flavouring)
    charts.strength_curve(model.strength_params, float(log_means[0, 0]), float(log_sds[0, 0]), readings, about)
    _why_apart(readings)
    if row.reachable:
        parts.cautions(model.cautions(Recipe(base, {flavouring: float(row.dose_g_per_kg)})), shelf)
    _other_bases(model, flavouring)


def _why_apart(readings: list[dict[str, Any]]) -> None:
    """Say why marks may lie beside the curve."""
    if readings:
        st.html(
            '<p class="quiet">The curve is of a fresh cup for the average taster. Marks are single words: palates tire '
            "while a cup is stepped, and people differ, so stepped marks may lie to one side of it.</p>"
        )


def _other_bases(model: Learned, flavouring: str) -> None:
    """Draw what each base needs of a flavouring, beside one another."""
    names = {i: b.name for i, b in model.shelf.bases.items()}
    found = model.needed_dose(None, [flavouring])
    rows = [
        {"name": names[r.base_id], "value": r.dose_g_per_kg, "low": r.low, "high": r.high}
        for r in parts.rows(found.sort_values("dose_g_per_kg"))
        if r.reachable
    ]
    if len(rows) > 1:
        name = model.shelf.flavouring(flavouring).name
        charts.dots(rows, "needed dose, g/kg", f"How much {name} each base needs", log=True)


def _readings(bench: Bench, shelf: Shelf, base_id: str, flavouring_id: str) -> list[dict[str, Any]]:
    """Return dose, strength word and taster of the readings of one flavouring in one base, of the last cups of it."""
    import numpy as np

    from pairing.learning.log import read_log

    cups = bench.listed(MOST_CUPS, base_id=base_id, flavouring_id=flavouring_id).trials
    log = read_log(shelf, bench.readings_of(cups))
    inside = log.recipes.flavouring == list(shelf.flavourings).index(flavouring_id)
    in_base = log.recipes.base == list(shelf.bases).index(base_id)
    rows, slots = np.nonzero(inside & in_base[:, None] & ~np.isnan(log.strength) & np.isfinite(log.recipes.log_dose))
    doses, words = np.exp(log.recipes.log_dose[rows, slots]), log.strength[rows, slots]
    return [
        {
            "dose": float(dose),
            "mid": float(word),
            "who": log.tasters[log.taster[row]],
            "how": "stepped" if log.stepped[row] else "fresh cup",
        }
        for row, dose, word in zip(rows, doses, words, strict=True)
    ]


def bases(model: Learned) -> None:
    """Draw the base factors."""
    table = model.base_factor().sort_values("factor")
    st.write("A factor of 1.3 means: this base needs 1.3 times the dose that an average base needs.")
    names = {i: b.name for i, b in model.shelf.bases.items()}
    rows = [
        {"name": names.get(r.base_id, r.base_id), "value": r.factor, "low": r.low, "high": r.high}
        for r in parts.rows(table)
    ]
    charts.dots(rows, "base factor", "How much more or less flavouring each base needs", zero=1.0, log=True)
    sides = st.multiselect("Side by side", list(names), format_func=names.__getitem__, placeholder="two bases or more")
    if len(sides) > 1:
        _beside(model, sides)


def _beside(model: Learned, base_ids: list[str]) -> None:
    """Say what bases need beside the first of them, and draw it flavouring by flavouring."""
    names = model.shelf.names
    found = model.dose_ratios(base_ids).to_dict("records")
    for told in factors_in_words(found, model.shelf):
        st.write(told)
    rows = [
        {"name": f"{names[r['flavouring_id']]} in {names[r['base_id']]}", "value": r["ratio"]}
        | {end: r[end] for end in ("low", "high")}
        for r in found
        if isinstance(r["flavouring_id"], str)
    ]
    of = f"× the dose that {names[base_ids[0]]} needs"
    charts.dots(rows, of, f"Dose of each flavouring {of}", zero=1.0, log=True)


def everything(model: Learned) -> None:
    """Write the needed dose of every flavouring in every base."""
    shelf = model.shelf
    table = model.needed_dose()
    names = {i: b.name for i, b in shelf.bases.items()}
    base = st.selectbox(
        "Only this base", list(names), index=None, format_func=names.__getitem__, placeholder="all bases"
    )
    if base is not None:
        table = table[table["base_id"] == base]
    st.dataframe(
        [
            {
                "Flavouring": shelf.flavouring(r.flavouring_id).name,
                "Base": names.get(r.base_id, r.base_id),
                "Needed dose, g/kg": said_dose(r),
                "Beside the label": ratio(r.label_ratio),
                "Readings": int(r.readings),
            }
            for r in parts.rows(table)
        ],
        hide_index=True,
    )


def said_dose(row: Any) -> str:
    """Write a needed dose with its interval, or that it cannot be reached."""
    return interval(row.dose_g_per_kg, row.low, row.high, "g/kg") if row.reachable else not_reached(row.readings)


def ratio(label_ratio: float) -> str:
    """Write how a dose compares with the label's.

    Examples
    --------
    >>> ratio(1.5), ratio(float("nan"))
    ('1.5 × the label', 'no label direction')
    """
    return "no label direction" if is_missing(label_ratio) else f"{number(label_ratio, 2)} × the label"
