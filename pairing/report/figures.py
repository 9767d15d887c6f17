"""Small pictures as SVG text: intervals along an axis, points in time. No script, no request, every text escaped."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

__all__ = ["Mark", "Row", "as_file", "intervals", "points"]

_WIDTH, _ROW, _LEFT, _RIGHT, _TOP, _BOTTOM = 760, 30, 270, 100, 8, 40
_INK, _QUIET, _GRID = "#1c2321", "#45524e", "#dfe6e3"
_MAIN, _BAND, _OTHER = "#0b6e5d", "#a9d5cb", "#b4530b"


@dataclass(frozen=True)
class Mark:
    """A single place on a row, with its word."""

    at: float
    word: str


@dataclass(frozen=True)
class Row:
    """One row of an interval picture.

    Attributes
    ----------
    label : str
    value : float
    low, high : float
        Ends of the interval.
    marks : tuple of Mark
        Further places, such as the label direction.
    shown : str
        The value in words, at the right.
    """

    label: str
    value: float
    low: float
    high: float
    marks: tuple[Mark, ...] = ()
    shown: str = ""


def intervals(rows: Sequence[Row], unit: str, title: str, *, log: bool = False, line: float | None = None) -> str:
    """Draw values with their intervals, one row each.

    Parameters
    ----------
    rows : sequence of Row
    unit : str
        Of the axis.
    title : str
        What a screen reader says.
    log : bool
        Logarithmic axis; all values are then above 0.
    line : float, optional
        Where a vertical line goes, such as 'no difference'.
    """
    values = [v for r in rows for v in (r.value, r.low, r.high, *(m.at for m in r.marks)) if math.isfinite(v)]
    values += [] if line is None else [line]
    place, ticks = _axis(values, log)
    height = _TOP + _ROW * len(rows) + _BOTTOM
    out = [_open(height, title)]
    bottom = _TOP + _ROW * len(rows)
    for tick in ticks:
        x = place(tick)
        out.append(f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{_TOP}" y2="{bottom}" stroke="{_GRID}"/>')
        out.append(_text(x, bottom + 16, f"{tick:g}", "middle", _QUIET))
    if line is not None:
        x = place(line)
        out.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{_TOP}" y2="{bottom}" stroke="{_QUIET}" stroke-dasharray="3 3"/>'
        )
    out.append(_text((_LEFT + _WIDTH - _RIGHT) / 2, bottom + 33, unit, "middle", _QUIET))
    for i, row in enumerate(rows):
        out.append(_row(row, _TOP + _ROW * i + _ROW / 2, place))
    return "".join([*out, "</svg>"])


def points(
    xs: Sequence[float], ys: Sequence[float], words: Sequence[str], title: str, *, filled: Sequence[bool]
) -> str:
    """Draw likings (1 to 9) in the order of the cups; filled points were tasted under a code.

    Parameters
    ----------
    xs, ys : sequence of float
        Place and liking.
    words : sequence of str
        What each point says when pointed at.
    title : str
    filled : sequence of bool
    """
    height, left, right, bottom = 240, 50, 12, 200
    span = max(max(xs, default=1.0) - min(xs, default=0.0), 1.0)
    first = min(xs, default=0.0)
    out = [_open(height, title)]
    for score in range(1, 10, 2):
        y = bottom - (score - 1) * (bottom - 12) / 8
        out.append(f'<line x1="{left}" x2="{_WIDTH - right}" y1="{y:.1f}" y2="{y:.1f}" stroke="{_GRID}"/>')
        out.append(_text(left - 8, y + 4, str(score), "end", _QUIET))
    out.append(_text((left + _WIDTH) / 2, height - 12, "liking (1 to 9) of the cups, first to last", "middle", _QUIET))
    for x, y, word, solid in zip(xs, ys, words, filled, strict=True):
        px = left + 8 + (x - first) / span * (_WIDTH - left - right - 16)
        py = bottom - (y - 1) * (bottom - 12) / 8
        fill = _MAIN if solid else "#ffffff"
        out.append(
            f'<circle cx="{px:.1f}" cy="{py:.1f}" r="4.5" fill="{fill}" stroke="{_MAIN}" stroke-width="1.5">'
            f"<title>{escape(word)}</title></circle>"
        )
    return "".join([*out, "</svg>"])


def _axis(values: Sequence[float], log: bool) -> tuple[Callable[[float], float], list[float]]:
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    if log:
        low, high = max(low, 1e-6), max(high, 1e-6)
        a, b = math.log(low) - 0.15, math.log(high) + 0.15
        steps = [
            m * 10.0**e
            for e in range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
            for m in (1, 2, 5)
        ]
        ticks = [t for t in steps if a <= math.log(t) <= b]
        if len(ticks) < 3:  # a narrow span: even steps serve better
            step = _step(math.exp(b) - math.exp(a))
            ticks = [step * k for k in range(math.ceil(math.exp(a) / step), math.floor(math.exp(b) / step) + 1)]
    else:
        margin = 0.05 * (high - low) or 0.5
        a, b = low - margin, high + margin
        step = _step(b - a)
        ticks = [step * k for k in range(math.ceil(a / step), math.floor(b / step) + 1)]

    def place(value: float) -> float:
        v = math.log(max(value, 1e-9)) if log else value
        return _LEFT + (min(max(v, a), b) - a) / (b - a) * (_WIDTH - _LEFT - _RIGHT)

    return place, ticks


def _step(span: float) -> float:
    raw = span / 5
    power = 10.0 ** math.floor(math.log10(raw))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= raw)


def _row(row: Row, y: float, place: Callable[[float], float]) -> str:
    label = row.label if len(row.label) <= 38 else row.label[:37] + "…"
    out = [_text(_LEFT - 10, y + 4, label, "end", _INK)]
    if math.isfinite(row.low) and math.isfinite(row.high):
        x1, x2 = place(row.low), place(row.high)
        out.append(
            f'<rect x="{x1:.1f}" y="{y - 5:.1f}" width="{max(x2 - x1, 1):.1f}" height="10" rx="2" fill="{_BAND}"/>'
        )
    for mark in row.marks:
        x = place(mark.at)
        out.append(
            f'<path d="M{x:.1f} {y - 9:.1f} l5 -5 h-10 z" fill="{_OTHER}"><title>{escape(mark.word)}</title></path>'
        )
    if math.isfinite(row.value):
        out.append(f'<circle cx="{place(row.value):.1f}" cy="{y:.1f}" r="5" fill="{_MAIN}"/>')
    out.append(_text(_WIDTH - _RIGHT + 8, y + 4, row.shown, "start", _INK))
    return "".join(out)


def as_file(svg: str) -> str:
    """Return a picture as text that stands on its own; without its namespace it is none outside of a page.

    Examples
    --------
    >>> as_file("<svg></svg>")
    '<svg xmlns="http://www.w3.org/2000/svg"></svg>'
    """
    return svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)


def _open(height: float, title: str) -> str:
    return (
        f'<svg viewBox="0 0 {_WIDTH} {height:g}" width="{_WIDTH}" height="{height:g}" '
        f'role="img" aria-label="{escape(title)}" font-family="system-ui, sans-serif" font-size="12">'
    )


def _text(x: float, y: float, text: str, anchor: str, colour: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}">{escape(text)}</text>'
