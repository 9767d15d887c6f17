"""The charts, each with its alternative text and its table."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from pairing.model.columns import STRENGTH_WORDS
from pairing.model.constants import Z80
from pairing_dashboard import parts
from pairing_dashboard.wording import interval, joined, number

if TYPE_CHECKING:
    import altair as alt
    import numpy as np
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["calibration", "dots", "expected_and_learned", "front", "season", "strength_curve"]

QUIET = "#7f8794"  # stands out at 3:1 from the light and from the dark ground
LEARNED = "#a85a96"  # so does this
Z50 = 0.6745  # half width of a 50 % interval of a normal distribution, in sd
_WORDS_AXIS = "['" + "', '".join(STRENGTH_WORDS) + "'][datum.value]"


def strength_curve(params: Any, log_mean: float, log_sd: float, readings: list[dict[str, Any]], about: str) -> None:
    """Draw strength against dose: expected word, 50 % and 80 % bands, and the readings.

    Parameters
    ----------
    params : StrengthParams
        Thresholds and spread of the words.
    log_mean, log_sd : float
        What is known of the needed dose, natural log of g/kg.
    readings : list of dict
        ``dose`` (g/kg), ``mid`` (strength word, 0–5), ``who``, ``how`` (*fresh cup* or *stepped*).
    about : str
        Alternative text.
    """
    import altair as alt
    import numpy as np

    low, high = log_mean - 1.6, log_mean + 1.4
    if readings:
        seen = [np.log(r["dose"]) for r in readings]
        low, high = min(low, min(seen) - 0.1), max(high, max(seen) + 0.1)
    dose = np.exp(np.linspace(low, high, 60))
    shifts = {"mid": 0.0, "a80": Z80, "a50": Z50, "b50": -Z50, "b80": -Z80}
    at = {k: _expected(params, np.log(dose) - (log_mean + z * log_sd)) for k, z in shifts.items()}
    values = [{"dose": float(d), **{k: float(v[i]) for k, v in at.items()}} for i, d in enumerate(dose)]
    x = alt.X("dose:Q", title="dose, g/kg of drink", scale=alt.Scale(type="log", nice=False), axis=alt.Axis(grid=False))
    words = alt.Axis(values=list(range(6)), labelExpr=_WORDS_AXIS, labelLimit=140, labelOverlap=False)
    axis: dict[str, Any] = {"title": None, "scale": alt.Scale(domain=[0, 5]), "axis": words}  # of all layers, or
    y = alt.Y("mid:Q", **axis)  # some bring ticks of their own
    curve, points = alt.Chart(alt.Data(values=values)), alt.Chart(alt.Data(values=readings))
    drawing = alt.layer(
        curve.mark_area(opacity=0.18).encode(x=x, y=alt.Y("a80:Q", **axis), y2="b80:Q"),
        curve.mark_area(opacity=0.3).encode(x=x, y=alt.Y("a50:Q", **axis), y2="b50:Q"),
        curve.mark_line(strokeWidth=3).encode(x=x, y=y),
        points.mark_point(size=70, filled=True, opacity=0.75).encode(
            x=x,
            y=y,
            shape=alt.Shape("how:N", title=None, legend=alt.Legend(orient="top")),
            color=alt.Color("how:N", title=None, scale=alt.Scale(range=["#c06a24", "#5580c4"])),
            tooltip=["dose:Q", "who:N", "how:N"],
        ),
    )
    rows = [
        (number(float(dose[i])), interval(float(at["mid"][i]), float(at["a80"][i]), float(at["b80"][i])))
        for i in range(0, 60, 6)
    ]
    columns = ("Dose, g/kg>", "Strength, 0–5, 80 % interval>")
    parts.chart(drawing.properties(height=320), about, rows, columns)


def _expected(params: Any, log_ratio: np.ndarray) -> np.ndarray:
    """Mean strength word (0–5) at so many natural log units above the needed dose."""
    import numpy as np
    from scipy.special import ndtr

    below = ndtr((np.asarray(params.thresholds)[:, None] - log_ratio) / params.scale)  # P(strength <= k)
    return np.asarray((1 - below).sum(axis=0))


def dots(rows: list[dict[str, Any]], title: str, about: str, *, zero: float | None = None, log: bool = False) -> None:
    """Draw estimates with their intervals, one line each.

    Parameters
    ----------
    rows : list of dict
        ``name, value, low, high``.
    title : str
        Of the axis, with the unit.
    about : str
        Alternative text.
    zero : float, optional
        Where to draw the line of no difference.
    log : bool
        Logarithmic axis.
    """
    import altair as alt

    chart = alt.Chart(alt.Data(values=rows))
    scale = alt.Scale(type="log", nice=False) if log else alt.Scale(zero=False)
    below = alt.Axis(titleAnchor="end")  # on a phone the names leave the axis less room than its title needs
    y = alt.Y("name:N", title=None, sort=None, axis=alt.Axis(labelLimit=220))
    layers: list[alt.Chart] = []
    if zero is not None:
        none = alt.Chart(alt.Data(values=[{"v": zero}]))
        layers.append(none.mark_rule(strokeDash=[4, 4], color=QUIET).encode(x="v:Q"))
    layers.append(
        chart.mark_rule(strokeWidth=4, color=QUIET).encode(
            x=alt.X("low:Q", title=title, scale=scale, axis=below), x2="high:Q", y=y
        )
    )
    layers.append(
        chart.mark_circle(size=110, opacity=1).encode(x=alt.X("value:Q", title=title, scale=scale, axis=below), y=y)
    )
    table = [(r["name"], interval(r["value"], r["low"], r["high"])) for r in rows]
    parts.chart(
        alt.layer(*layers).properties(height=34 * len(rows) + 50), about, table, ("", f"{title}, 80 % interval>")
    )


def expected_and_learned(rows: list[dict[str, Any]], title: str, about: str) -> None:
    """Draw what was expected (a ring) and what was learned (a disc) on one line each, with their 80 % intervals.

    Parameters
    ----------
    rows : list of dict
        ``name, expected, expected_low, expected_high, learned, learned_low, learned_high``.
    title : str
        Of the axis, with the unit.
    about : str
        Alternative text.
    """
    import altair as alt

    chart = alt.Chart(alt.Data(values=rows))
    y = alt.Y("name:N", title=None, sort=None, axis=alt.Axis(labelLimit=220))

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", title=title, scale=alt.Scale(zero=False), axis=alt.Axis(titleAnchor="end"))

    none = alt.Chart(alt.Data(values=[{"v": 0.0}])).mark_rule(strokeDash=[4, 4], color=QUIET).encode(x="v:Q")
    layers = [
        chart.mark_rule(strokeWidth=2, color=QUIET, yOffset=7).encode(x=x("expected_low"), x2="expected_high:Q", y=y),
        chart.mark_point(size=90, color=QUIET, strokeWidth=2.5, yOffset=7).encode(x=x("expected"), y=y),
        chart.mark_rule(strokeWidth=4, color=LEARNED, opacity=0.75, yOffset=-5).encode(
            x=x("learned_low"), x2="learned_high:Q", y=y
        ),
        chart.mark_circle(size=120, color=LEARNED, opacity=1, yOffset=-5).encode(x=x("learned"), y=y),
    ]
    table = [
        (r["name"], *(interval(r[kind], r[f"{kind}_low"], r[f"{kind}_high"]) for kind in ("expected", "learned")))
        for r in rows
    ]
    parts.chart(
        alt.layer(none, *layers).properties(height=44 * len(rows) + 50),
        f"{about}: ring expected, disc learned",
        table,
        ("Rule", "Expected, 80 % interval>", "Learned, 80 % interval>"),
    )


def season(rows: list[dict[str, Any]]) -> None:
    """Draw liking over time, one mark per cup, with its running mean (``at`` ISO time, ``liking, mean, what``)."""
    import altair as alt

    about = "Liking of each cup over time, 1 to 9, with the mean of the last ten"
    chart = alt.Chart(alt.Data(values=rows))
    x = alt.X("at:T", title=None)
    y = alt.Y("liking:Q", title="liking, 1–9", scale=alt.Scale(domain=[1, 9], nice=False))
    drawing = alt.layer(
        chart.mark_circle(size=50, opacity=0.5).encode(x=x, y=y, tooltip=["what:N", "liking:Q"]),
        chart.mark_line(strokeWidth=3, color="#c06a24").encode(x=x, y=alt.Y("mean:Q", scale=alt.Scale(domain=[1, 9]))),
    )
    shown = [(r["at"][:10], r["what"], number(r["liking"], 2), number(r["mean"], 2)) for r in rows[-50:]]
    parts.chart(drawing.properties(height=240), about, shown, ("When", "What", "Liking>", "Mean of ten>"))


def _named(shelf: Shelf, flavouring_ids: Iterable[str]) -> str:
    return joined(shelf.flavouring(i).name for i in flavouring_ids)


def front(found: pd.DataFrame, shelf: Shelf) -> None:
    """Draw the recipes that no other beats in both added energy and liking (a front as `Learned.front` gives it)."""
    import altair as alt

    rows: list[dict[str, Any]] = [
        {
            "name": f"{_named(shelf, r['flavouring_ids'])} in {shelf.base(r['base_id']).name}",
            "kcal": r["added_kcal"],
            "liking": r["liking"],
            "low": r["liking_low"],
            "high": r["liking_high"],
        }
        for r in found.to_dict("records")
    ]
    chart = alt.Chart(alt.Data(values=rows))
    x = alt.X("kcal:Q", title="added energy, kcal per serving")
    scale = alt.Scale(domain=[1, 9], zero=False, nice=False)  # the same for all layers: else one of them brings a zero
    axis: dict[str, Any] = {
        "title": "expected liking, 1–9",
        "scale": scale,
        "axis": alt.Axis(values=list(range(1, 10))),
    }
    y = alt.Y("liking:Q", **axis)
    drawing = alt.layer(
        chart.mark_rule(color=QUIET).encode(x=x, y=alt.Y("low:Q", **axis), y2="high:Q"),
        chart.mark_line(interpolate="step-after", opacity=0.5).encode(x=x, y=y),
        chart.mark_circle(size=110, opacity=1).encode(x=x, y=y, tooltip=["name:N", "kcal:Q", "liking:Q"]),
    )
    table = [(r["name"], number(r["kcal"], 2), interval(r["liking"], r["low"], r["high"])) for r in rows]
    about = "Added energy against expected liking: each recipe is liked more than anything with less added energy"
    columns = ("Recipe", "Added kcal>", "Expected liking, 80 % interval>")
    parts.chart(drawing.properties(height=320), about, table, columns)


def calibration(rows: list[dict[str, Any]], about: str) -> None:
    """Draw predicted against given liking by group (``predicted, came, cups``), with the line of equality."""
    import altair as alt

    chart = alt.Chart(alt.Data(values=rows))
    ends = [
        min(*(r["predicted"] for r in rows), *(r["came"] for r in rows)),
        max(*(r["predicted"] for r in rows), *(r["came"] for r in rows)),
    ]
    alike: dict[str, Any] = {"scale": alt.Scale(domain=ends, nice=True), "axis": alt.Axis(tickMinStep=1)}
    x = alt.X("predicted:Q", title="predicted liking, 1–9", **alike)
    y = alt.Y("came:Q", title="given liking, 1–9", **alike)
    same = alt.Chart(alt.Data(values=[{"predicted": e, "came": e} for e in ends]))
    drawing = alt.layer(
        same.mark_line(strokeDash=[5, 4]).encode(x=x, y=y),
        chart.mark_circle(opacity=0.8).encode(x=x, y=y, size=alt.Size("cups:Q", legend=None)),
    )
    shown = [(number(r["predicted"], 2), number(r["came"], 2), str(r["cups"])) for r in rows]
    parts.chart(drawing.properties(height=320), about, shown, ("Predicted>", "Given>", "Cups>"))
