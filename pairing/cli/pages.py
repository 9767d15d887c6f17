"""Documents on the terminal, and in files whose ending says how."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pairing.cli.output import Output
from pairing.errors import QuantityError, StoreError
from pairing.report.document import Bullets, Figure, Heading, Paragraph, Table, to_html, to_markdown

if TYPE_CHECKING:
    from pairing.report.document import Document

__all__ = ["show_page", "write_page"]


def show_page(document: Document, out: Output) -> None:
    """Print a document for people; pictures are left to their words."""
    if out.json:
        return
    out.say(document.title)
    for block in document.blocks:
        match block:
            case Heading(text):
                out.say(f"\n{text}")
            case Paragraph(text):
                out.say(text)
            case Bullets(items, ordered, _):
                for number, item in enumerate(items, start=1):
                    out.say(f"  {number}. {item}" if ordered else f"  – {item}")
            case Table(columns, rows, caption):
                names = [column.rstrip(">") for column in columns]
                records = [dict(zip(map(str, range(len(row))), row, strict=True)) for row in rows]
                out.table("page", records, [(str(i), name) for i, name in enumerate(names)], title=caption)
            case Figure(_, words):
                out.say(f"  {words}")
    if document.foot:
        out.say(f"\n{document.foot}")


def write_page(to: str, document: Document, out: Output, json_text: str | None = None) -> None:
    """Write a document as HTML or Markdown, or the JSON that stands for it.

    Raises
    ------
    QuantityError
        When the file's ending is none of these.
    """
    path = Path(to)
    match path.suffix.casefold():
        case ".html" | ".htm":
            text = to_html(document)
        case ".md":
            text = to_markdown(document)
        case ".json" if json_text is not None:
            text = json_text
        case other:
            kinds = ".html or .md" if json_text is None else ".html, .md or .json"
            raise QuantityError(f"{to} ends in {other or 'nothing'}", f"name a file ending in {kinds}")
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise StoreError(
            f"{path} cannot be written: {error.strerror}", "name a file in a folder that is there"
        ) from None
    out.value("written_to", str(path))
    out.say(f"{document.title}: written to {path}.")
