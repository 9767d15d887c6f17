"""Pieces that every view is made of."""

from __future__ import annotations

import os
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import segno
import streamlit as st

from pairing.errors import PairingError
from pairing.model.caution import PROFESSIONAL, together
from pairing.quantities.constants import MAX_DOSE_G_PER_KG
from pairing.report.document import Bullets, Figure, Heading, Paragraph, Table
from pairing.report.figures import as_file
from pairing_dashboard.wording import entered, md, number, sentence, short

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

    from pairing.model.caution import Caution
    from pairing.model.shelf import Shelf
    from pairing.quantities.directions import Direction
    from pairing.report.document import Document

__all__ = [
    "as_table",
    "ask",
    "attempt",
    "cautions",
    "chart",
    "document",
    "dose",
    "escape",
    "facts",
    "problem",
    "remember",
    "renamed",
    "said",
    "style",
    "table",
    "title",
]

_CSS = Path(__file__).with_name("style.css")
_SCRIPTS = [Path(__file__).with_name(name) for name in ("taps.js", "picture.js")]
_NOTICE = "notice"
INK = {"light": "#231d19", "dark": "#f2ece4"}
"""Colour of texts in charts; the theme's own is too pale."""
SEVERITY = {"stop": "stop", "warn": "warning", "note": "note"}
"""How the severities are called."""
MOST_ABREAST = 5
"""Of a table with more than three columns so many of numbers stand abreast on a phone; words take two places."""
LOOPBACK = ("127.0.0.1", "localhost", "::1")


def style() -> None:
    """Put our style sheet on the page, what keeps a tap behind the field that it leaves, and what saves pictures."""
    st.html(_CSS)
    scripts = "".join(script.read_text(encoding="utf-8") for script in _SCRIPTS)
    st.html(f"<script>{scripts}</script>", unsafe_allow_javascript=True)


def say_who_can_reach_this() -> None:
    """Warn on every page when everybody comes in, and show phones their way where they come in by a key."""
    address, url = st.get_option("server.address"), os.environ.get("PAIRING_PHONES_URL")
    if url:
        with st.popover("Add a phone", icon=":material/qr_code:"):
            st.write("Scan this with a phone in the same network. Whoever has the code can read and change this bench.")
            st.image(segno.make(url, micro=False).svg_inline(scale=6, border=4, light="#fff"), width=260)
            st.caption(md(url))
    elif address not in LOOPBACK and not os.environ.get("PAIRING_SIGN_IN"):
        st.warning(
            f"Whoever reaches {md(address or 'this machine')} can read and change this bench: there is no key.",
            icon=":material/lan:",
        )


def title(text: str, lead: str) -> None:
    """Write the page's title and one line on what it is for; first thing in every view."""
    st.title(text, anchor=False)
    st.html(f'<p class="lead">{escape(lead)}</p>')
    said()


def remember(text: str, notes: Sequence[str] = ()) -> None:
    """Keep a notice, and what there is to add, for the next run of the page (a callback cannot write to it)."""
    st.session_state[_NOTICE] = (text, *notes)


def said() -> None:
    """Show the notice that the last action left, once.

    Its place is taken with or without one: what stands below keeps its own, and with it the tab that is open.
    """
    notice = st.session_state.pop(_NOTICE, None)
    place = st.container(key=None if notice is None else "notice-place")  # a page may ask twice: one of them has it
    if notice is None:
        return
    with place.container(key="notice"):  # stays in view however far down the page it was asked for
        if isinstance(notice, PairingError):
            problem(notice)
        else:
            text, *notes = map(md, notice)
            st.success("\n".join([text, "", *(f"- {note}" for note in notes)]), icon=":material/check:")


def problem(error: PairingError) -> None:
    """Show what is wrong and what to do about it."""
    hint = f"  \n**What to do:** {md(short(error.hint))}" if error.hint else ""
    st.error(f"{md(short(error.message))}{hint}", icon=":material/error:")


def attempt(action: Callable[..., Any], *args: Any, **kwargs: Any) -> Any:
    """Do something that may be refused; a refusal is shown with its remedy on the next run, and None comes back."""
    try:
        return action(*args, **kwargs)
    except PairingError as error:
        st.session_state[_NOTICE] = error
        return None


def ask(question: str) -> None:
    """Write the one question of a step at the bench."""
    st.html(f'<h2 class="ask">{escape(question)}</h2>')


def facts(pairs: Mapping[str, str]) -> None:
    """Show a few named figures in a row."""
    cells = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in pairs.items())
    st.html(f'<dl class="facts">{cells}</dl>')


def rows(frame: pd.DataFrame) -> Iterator[Any]:
    """Give the rows of a table one by one, each with its columns as attributes."""
    yield from frame.itertuples(index=False)


def table(rows: Iterable[Sequence[object]], columns: Sequence[str], caption: str = "") -> None:
    """Write a small table: real table cells, readable by everyone and printable; numbers to the right.

    Of wide ones a phone makes a block for each row, every cell beside its heading, instead of cutting them off.

    Parameters
    ----------
    rows : iterable of sequences
        Texts as they shall be read; they are escaped.
    columns : sequence of str
        A name that ends in ``>`` is set to the right.
    caption : str
        Above the table.
    """
    st.html(_sheet(rows, columns, caption))


def as_table(rows: Iterable[Sequence[object]], columns: Sequence[str], caption: str, before: str = "") -> None:
    """Write what a picture shows as a table that opens at a tap; the browser's own, it costs nothing while closed."""
    told = _sheet(rows, columns, caption)
    st.html(f'{before}<details class="same"><summary>The same as a table</summary>{told}</details>')


def _sheet(rows: Iterable[Sequence[object]], columns: Sequence[str], caption: str) -> str:
    side = ["n" if c.endswith(">") else "" for c in columns]
    head = "".join(
        f'<th scope="col" class="{s}">{escape(c.rstrip(">"))}</th>' for c, s in zip(columns, side, strict=True)
    )
    wide = len(columns) > 3 and sum(1 if s else 2 for s in side) > MOST_ABREAST
    named = [f' data-of="{escape(c.rstrip(">"))}"' if wide else "" for c in columns]
    body = "".join(
        "<tr>"
        + "".join(f'<td class="{s}"{n}>{escape(str(v))}</td>' for v, s, n in zip(row, side, named, strict=True))
        + "</tr>"
        for row in rows
    )
    label = f"<caption>{escape(caption)}</caption>" if caption else ""
    return (
        f'<div class="sheet{" wide" * wide}" tabindex="0" role="region" aria-label="{escape(caption or "table")}">'
        f"<table>{label}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def chart(drawing: alt.TopLevelMixin, about: str, rows: Iterable[Sequence[object]], columns: Sequence[str]) -> None:
    """Show a chart with its alternative text, and the same as a table.

    Parameters
    ----------
    drawing : altair chart
    about : str
        What it shows, in a sentence: alternative text of the drawing and caption of the table.
    rows, columns
        As in `table`.
    """
    ink = INK[st.context.theme.type or "light"]
    drawn = drawing.properties(description=about).configure_axis(labelColor=ink, titleColor=ink, labelFontSize=13)
    drawn = drawn.configure_legend(labelColor=ink, labelFontSize=13).configure_text(color=ink, fontSize=13)
    st.altair_chart(drawn, width="stretch")
    # its own bar has PNG
    as_table(rows, columns, about, before='<button type="button" class="picture">Save as SVG</button>')


def cautions(found: Sequence[Caution], shelf: Shelf) -> None:
    """Show the cautions of a recipe, a stop apart from the others; when there is none that is no green light."""
    said = {it: sentence(together([it], shelf.names)) for it in found}
    stops = [it for it in found if it.severity == "stop"]
    others = [it for it in found if it.severity != "stop"]
    if stops:
        st.error("  \n".join(f"**Stop:** {md(said[it])}" for it in stops), icon=":material/block:")
    if others:
        st.warning("  \n".join(md(said[it]) for it in others), icon=":material/warning:")
    if found:
        with st.expander("Where these come from, and what cannot be known here"):
            table(
                ((SEVERITY[it.severity], said[it], it.source, it.cannot_know) for it in found),
                ("How grave", "Caution", "Source", "Not known here"),
                sentence(PROFESSIONAL),
            )
    else:
        none = "Cautions: none known to this tool. No allergen written down is not free from: read the labels."
        st.html(f'<p class="quiet">{none}</p>')


def document(of: Document) -> None:
    """Show a report's document: its headings, texts, lists, tables and pictures."""
    st.header(md(of.title), anchor=False)
    for block in of.blocks:
        match block:
            case Heading(text):
                st.subheader(md(text), anchor=False)
            case Paragraph(text):
                st.markdown(md(text))
            case Bullets(items, ordered):
                st.markdown("\n".join(f"{f'{i}.' if ordered else '-'} {md(item)}" for i, item in enumerate(items, 1)))
            case Table(columns, rows, caption):
                table(rows, columns, caption)
            case Figure(svg, words):
                picture = b64encode(as_file(svg).encode()).decode()
                drawn = f'<img class="paper" alt="{escape(words)}" src="data:image/svg+xml;base64,{picture}">'
                st.html(f'<div class="sheet" tabindex="0" role="region" aria-label="picture">{drawn}</div>')
    if of.foot:
        st.html(f'<p class="quiet">{escape(of.foot)}</p>')


def label(direction: Direction) -> None:
    """Say how a label direction was understood; loudly where it may be another dose."""
    said = f"The label, '{direction.as_written}': {direction}."
    if direction.doubtful:
        st.warning(md(said))
    else:
        st.html(f'<p class="quiet">{escape(said)}</p>')


def dose(name: str, key: str, start: float) -> float | None:
    """Ask for a dose, g/kg, written with a decimal point or comma; None, and why below it, where it is no dose."""
    st.session_state.setdefault(key, number(start, 4))
    text = st.text_input(f"{name}, g/kg", key=key, max_chars=20)
    try:
        return entered(text, 0.0, MAX_DOSE_G_PER_KG, "g/kg")
    except PairingError as error:
        problem(error)
        return None


def renamed(key: str, names: Mapping[str, str]) -> None:
    """Hand a list of choices what is chosen in it once more when something has another name now.

    The window would go on showing, and sending, the name that was; called before the list is drawn.
    """
    told = f"names-{key}"
    if key in st.session_state and st.session_state.get(told, names) != names:
        st.session_state[key] = st.session_state[key]
    st.session_state[told] = dict(names)
