"""A document made of a few kinds of blocks, written as one self-contained HTML page or as Markdown.

Every text is escaped when it is written, and the page forbids itself every request: whatever people type into a name
or a note stays text.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

__all__ = ["Block", "Bullets", "Document", "Figure", "Heading", "Paragraph", "Table", "to_html", "to_markdown"]


@dataclass(frozen=True)
class Heading:
    """A heading below the title."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """A paragraph; ``quiet`` ones are set smaller."""

    text: str
    quiet: bool = False


@dataclass(frozen=True)
class Bullets:
    """A list; ``tick`` gives boxes to tick off, ``ordered`` numbers."""

    items: tuple[str, ...]
    ordered: bool = False
    tick: bool = False


@dataclass(frozen=True)
class Table:
    """A table; columns whose header ends in ``>`` are aligned right."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str = ""


@dataclass(frozen=True)
class Figure:
    """A picture as SVG text made by :mod:`pairing.report.figures`, with the words that stand in for it."""

    svg: str
    words: str


Block = Heading | Paragraph | Bullets | Table | Figure


@dataclass(frozen=True)
class Document:
    """A title, blocks, and a line at the foot."""

    title: str
    blocks: tuple[Block, ...]
    foot: str = ""


MANY = 8
"""Longer lists are printed in two columns."""
_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { font: 15px/1.45 system-ui, sans-serif; color: #1c2321; background: #fff; max-width: 60rem; margin: 1.5rem auto;
  padding: 0 1rem; overflow-wrap: break-word; }
h1 { font-size: 1.6rem; margin: 0 0 .5rem; }
h2 { font-size: 1.1rem; margin: 1.1rem 0 .3rem; border-bottom: 1px solid #b9c4c0; padding-bottom: .15rem; }
p, ul, ol { margin: .35rem 0; }
table { border-collapse: collapse; margin: .4rem 0; width: 100%; }
caption { text-align: left; color: #45524e; font-size: .9rem; padding-bottom: .2rem; }
th, td { text-align: left; padding: .2rem .6rem .2rem 0; border-bottom: 1px solid #dfe6e3; vertical-align: top; }
th.n, td.n { text-align: right; font-variant-numeric: tabular-nums; }
figure { margin: .5rem 0; }
figure svg { max-width: 100%; height: auto; }
figcaption, .quiet, footer { color: #45524e; font-size: .88rem; }
ul.tick { list-style: none; padding-left: .2rem; }
ul.tick li::before { content: "\\2610  "; }
footer { margin-top: 1.2rem; border-top: 1px solid #b9c4c0; padding-top: .3rem; }
@media print { html { font-size: 9.1px; }
  body { font-size: 1rem; line-height: 1.3; margin: 0; max-width: none; padding: 0; }
  h2 { margin: .7rem 0 .2rem; break-after: avoid; } th, td { padding-top: .08rem; padding-bottom: .08rem; }
  .many { columns: 2; } figure svg { max-width: 70%; } tr, li, figure { break-inside: avoid; } }
@page { size: A4; margin: 12mm; }
"""
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def to_html(document: Document) -> str:
    """Write a document as one HTML page without scripts or requests.

    Examples
    --------
    >>> "<script>" in to_html(Document("<script>", (Paragraph("<b>"),)))
    False
    """
    title = escape(document.title)
    body = "\n".join(_html(block) for block in document.blocks)
    foot = f"\n<footer>{escape(document.foot)}</footer>" if document.foot else ""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n"
        f"{body}\n</main>{foot}\n</body>\n</html>\n"
    )


def to_markdown(document: Document) -> str:
    r"""Write a document as Markdown; pictures are left to their words.

    Examples
    --------
    >>> to_markdown(Document("Card", (Paragraph("a*b"),)))
    '# Card\n\na\\*b\n'
    """
    parts = [f"# {_md(document.title)}", *map(_markdown, document.blocks)]
    if document.foot:
        parts.append(f"---\n\n{_md(document.foot)}")
    return "\n\n".join(parts) + "\n"


def _html(block: Block) -> str:
    match block:
        case Heading(text):
            return f"<h2>{escape(text)}</h2>"
        case Paragraph(text, quiet):
            return f'<p class="quiet">{escape(text)}</p>' if quiet else f"<p>{escape(text)}</p>"
        case Bullets(items, ordered, tick):
            tag = "ol" if ordered else "ul"
            classes = [*(["tick"] if tick else []), *(["many"] if len(items) > MANY and not ordered else [])]
            kind = f' class="{" ".join(classes)}"' if classes else ""
            return f"<{tag}{kind}>" + "".join(f"<li>{escape(item)}</li>" for item in items) + f"</{tag}>"
        case Table(columns, rows, caption):
            return _html_table(columns, rows, caption)
        case Figure(svg, words):
            return f"<figure>{svg}<figcaption>{escape(words)}</figcaption></figure>"


def _html_table(columns: Sequence[str], rows: Sequence[Sequence[str]], caption: str) -> str:
    kind = [' class="n"' if column.endswith(">") else "" for column in columns]
    head = "".join(f'<th scope="col"{k}>{escape(c.rstrip(">"))}</th>' for c, k in zip(columns, kind, strict=True))
    body = "".join(
        "<tr>" + "".join(f"<td{k}>{escape(cell)}</td>" for cell, k in zip(row, kind, strict=True)) + "</tr>"
        for row in rows
    )
    said = f"<caption>{escape(caption)}</caption>" if caption else ""
    return f"<table>{said}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _markdown(block: Block) -> str:
    match block:
        case Heading(text):
            return f"## {_md(text)}"
        case Paragraph(text):
            return _md(text)
        case Bullets(items, ordered, tick):
            signs = [f"{i}." if ordered else "- [ ]" if tick else "-" for i in range(1, len(items) + 1)]
            return "\n".join(f"{sign} {_md(item)}" for sign, item in zip(signs, items, strict=True))
        case Table(columns, rows, caption):
            line = "|" + "|".join("---:" if c.endswith(">") else "---" for c in columns) + "|"
            head = "| " + " | ".join(_md(c.rstrip(">")) for c in columns) + " |"
            body = ["| " + " | ".join(map(_md, row)) + " |" for row in rows]
            return "\n".join([*([f"{_md(caption)}\n"] if caption else []), head, line, *body])
        case Figure(_, words):
            return f"({_md(words)})"


def _md(text: str) -> str:
    """Escape what Markdown or HTML in it would read as a sign; line breaks become blanks."""
    flat = " ".join(text.split())
    return re.sub(r"([\\`*_{}\[\]<>#|~&])", r"\\\1", flat)
