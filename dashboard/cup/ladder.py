"""The ladder so far: dose at each sip, and what was said of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from pairing.model.columns import JUST_RIGHT, STRENGTH_WORDS
from pairing_dashboard import parts
from pairing_dashboard.wording import joined, number

if TYPE_CHECKING:
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf

__all__ = ["draw", "drawn", "name_of", "rows"]

LEFT, ROOM, ROW_PX = -0.42, 2.4, 24
"""Where the number of a sip stands and where the drawing ends, the largest dose being 1; height of a row, px."""


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
    """Draw sips: number, flavouring, dose (g/kg) and word; nothing where there is none.

    Each has a row of its own below its flavouring, as long as its dose is beside the largest one: along one axis words
    would run into each other, and a dose of drops could not be seen beside one of syrup.
    """
    if not sips:
        return
    import altair as alt

    drawn_rows = list(rows(sips))
    chart = alt.Chart(alt.Data(values=drawn_rows)).encode(y=alt.Y("row:O", axis=None))
    scale = alt.Scale(domain=[LEFT, ROOM], nice=False)
    left, none, share = (alt.X(f"{name}:Q", axis=None, scale=scale) for name in ("left", "none", "share"))
    color = alt.Color("right:N", legend=None, scale=alt.Scale(domain=[True, False], range=["#2f8f7d", "#a85a96"]))
    steps = chart.transform_filter("isValid(datum.share)")
    drawing = alt.layer(
        chart.mark_text(align="left", fontWeight="bold").encode(x=left, text="name:N"),
        steps.mark_text(align="left").encode(x=left, text="sip:N"),
        steps.mark_bar(height=14).encode(x=none, x2="share:Q", color=color),
        steps.mark_text(align="left", dx=6).encode(x=share, text="said:N"),
    ).properties(height=ROW_PX * len(drawn_rows))
    about = "Dose at each sip, g/kg, with what was said of its strength"
    table = ((s, n, number(d), STRENGTH_WORDS[w]) for s, n, d, w in sips)
    parts.chart(drawing, about, table, ("Sip>", "Flavouring", "Dose, g/kg>", "Said"))


def rows(sips: Sequence[tuple[int, str, float, int]]) -> Iterator[dict[str, Any]]:
    """Go through the rows of the drawing: a flavouring's name, then its sips, each with all that was said."""
    row = 0
    for name in dict.fromkeys(name for _, name, _, _ in sips):
        mine = [(sip, dose, word) for sip, of, dose, word in sips if of == name]
        most = max(dose for _, dose, _ in mine) or 1.0
        yield {"row": row, "left": LEFT, "name": name}
        for sip, dose in dict.fromkeys((sip, dose) for sip, dose, _ in mine):
            row += 1
            words = dict.fromkeys(word for *of, word in mine if of == [sip, dose])
            said = joined((STRENGTH_WORDS[word] for word in words), "or")
            yield {
                **{"row": row, "sip": f"sip {sip}", "said": f"{number(dose)} g/kg, {said}"},
                **{"left": LEFT, "name": "", "none": 0, "share": dose / most, "right": JUST_RIGHT in words},
            }
        row += 1
