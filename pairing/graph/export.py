"""The pairing graph as a file: GraphML, GEXF, JSON (nodes and links), a CSV list of edges, an SVG picture."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import networkx as nx

from pairing.errors import StoreError
from pairing.graph.xmltext import xml_text

__all__ = ["FORMATS", "as_text", "save", "write_text"]

FORMATS = ("graphml", "gexf", "json", "csv", "svg")


def as_text(graph: nx.Graph[str], format: str) -> str:
    """Write a graph as text.

    Lists (the bases of a pair) are written as JSON text where the format knows no lists, so that an id may contain
    any separator. What is not known is left out (an empty cell in CSV, null in JSON).

    Parameters
    ----------
    graph : nx.Graph[str]
        From `graph` or `difference`.
    format : str
        ``graphml``, ``gexf``, ``json``, ``csv`` or ``svg``.

    Raises
    ------
    StoreError
        If the format is another one.
    """
    if format == "graphml":
        return "\n".join(nx.generate_graphml(_flat(graph), prettyprint=False))
    if format == "gexf":
        return "\n".join(nx.generate_gexf(_flat(graph), prettyprint=False))
    if format == "json":
        return json.dumps(
            _plain(nx.node_link_data(graph, edges="links")), ensure_ascii=False, allow_nan=False, indent=1
        )
    if format == "csv":
        return _edge_list(graph)
    if format == "svg":
        from pairing.graph.picture import picture

        return picture(graph)
    raise StoreError(f"a graph cannot be written as {format!r}", f"use one of {', '.join(FORMATS)}")


def save(graph: nx.Graph[str], path: str | Path, format: str | None = None) -> Path:
    """Write a graph to a file; without a format, by the file's ending.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    StoreError
        If the format is unknown or the folder does not exist.
    """
    return write_text(as_text(graph, format or Path(path).suffix.lower().lstrip(".")), path)


def write_text(text: str, path: str | Path) -> Path:
    """Write text to a file as it is.

    Raises
    ------
    StoreError
        If the folder does not exist.
    """
    path = Path(path)
    if not path.parent.is_dir():
        raise StoreError(f"no folder {str(path.parent)!r}", "make the folder first or name another one")
    path.write_text(text, encoding="utf-8", newline="")
    return path


def _edge_list(graph: nx.Graph[str]) -> str:
    names = list(dict.fromkeys(name for _, _, facts in graph.edges(data=True) for name in facts))
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["flavouring_a", "flavouring_b", *names])
    for a, b, facts in graph.edges(data=True):
        rows.writerow([a, b, *(_cell(facts.get(name)) for name in names)])
    return out.getvalue()


def _flat(graph: nx.Graph[str]) -> nx.Graph[str]:
    """Make a copy that XML can hold."""
    made: nx.Graph[str] = nx.Graph()
    made.graph.update(_known(graph.graph))
    made.add_nodes_from((xml_text(node), _known(facts)) for node, facts in graph.nodes(data=True))
    made.add_edges_from((xml_text(a), xml_text(b), _known(facts)) for a, b, facts in graph.edges(data=True))
    return made


def _known(facts: dict[str, Any]) -> dict[str, Any]:
    cells = ((name, _cell(value)) for name, value in facts.items())
    return {name: xml_text(cell) if isinstance(cell, str) else cell for name, cell in cells if cell is not None}


def _cell(value: Any) -> Any:
    value = _plain(value)
    return json.dumps(value, ensure_ascii=False) if isinstance(value, list | dict) else value


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [_plain(item) for item in (sorted(value) if isinstance(value, set | frozenset) else value)]
    if hasattr(value, "item"):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value
