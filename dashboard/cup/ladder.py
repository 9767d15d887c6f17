"""The ladder so far: dose at each sip, and what was said of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pairing.model.columns import STRENGTH_WORDS
from pairing_dashboard import parts
from pairing_dashboard.wording import number

if TYPE_CHECKING:
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf

__all__ = ["draw", "drawn", "name_of"]


def name_of(shelf: Shelf, flavouring_id: str) -> str:
    """Name of a flavouring, its id when the shelf has lost it."""
    return shelf.flavourings[flavouring_id].name if flavouring_id in shelf.flavourings else flavouring_id


def draw(cup: Cup, shelf: Shelf) -> None:
    """Draw the sips of a cup; nothing before the first."""
    drawn(
        [
            (sip, name_of(shelf, i), reading.dose_g_per_kg[i], word)
            for sip, reading in enumerate(cup.readings, 1)
            for i, word in reading.strength.items()
        ]
    )


def drawn(sips: Sequence[tuple[int, str, float, int]]) -> None:
    """Draw sips: number, flavouring, dose (g/kg) and word; nothing where there is none."""
    rows = [(sip, name, dose, STRENGTH_WORDS[word]) for sip, name, dose, word in sips]
    if not rows:
        return
    import altair as alt

    values = [dict(zip(("sip", "flavouring", "dose", "said"), row, strict=True)) for row in rows]
    x = alt.X("sip:O", title="sip", axis=alt.Axis(labelAngle=0))
    y = alt.Y("dose:Q", title="dose, g/kg", scale=alt.Scale(zero=True))
    color = alt.Color(
        "flavouring:N", title=None, legend=alt.Legend(orient="top") if len({r[1] for r in rows}) > 1 else None
    )
    chart = alt.Chart(alt.Data(values=values)).encode(x=x, y=y, color=color)
    words = chart.mark_text(dy=-14, fontSize=13).encode(text="said:N")
    drawing = (chart.mark_line(strokeWidth=2) + chart.mark_point(size=90, filled=True) + words).properties(height=190)
    about = "Dose at each sip, g/kg, with what was said of its strength"
    parts.chart(
        drawing, about, ((s, n, number(d), w) for s, n, d, w in rows), ("Sip>", "Flavouring", "Dose, g/kg>", "Said")
    )
