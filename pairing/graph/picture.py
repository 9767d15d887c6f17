"""The pairing graph as an SVG picture that follows light and dark."""

from __future__ import annotations

import math
import unicodedata
from typing import Any
from xml.sax.saxutils import escape

import networkx as nx

from pairing.errors import LogError
from pairing.graph.layout import places
from pairing.graph.queries import LIKELY
from pairing.graph.xmltext import xml_text
from pairing.model.constants import Z80

__all__ = ["picture"]

FONT_PX, LINE_PX, MARGIN_PX = 13.0, 16.0, 28.0
LABEL_CHARACTERS, LABEL_LINES = 18, 2
HUES = 6  # groups with a colour of their own; further ones are grey

STYLE = """
.pairing-graph{--paper:#fdfbf6;--ink:#2a2622;--quiet:#6f685f;--good:#1f6f8b;--clash:#b8541a;
--h0:#e3a857;--h1:#7fb2a6;--h2:#c98ba0;--h3:#93a7d1;--h4:#a9b665;--h5:#c6a58a;--h6:#b9b3aa;
color:var(--ink);background:var(--paper);font:13px/16px system-ui,"Segoe UI",sans-serif}
@media (prefers-color-scheme:dark){.pairing-graph{--paper:#1c1a18;--ink:#efe9df;--quiet:#a79f94;--good:#6fc0dc;
--clash:#f0a060;--h0:#a8742a;--h1:#46796d;--h2:#8f5068;--h3:#566a99;--h4:#6d7a2f;--h5:#86654b;--h6:#5f5a53}}
.pairing-graph .page{fill:var(--paper)}
.pairing-graph .edge{fill:none;stroke:var(--good);stroke-linecap:round}
.pairing-graph .clash{stroke:var(--clash)}
.pairing-graph .node{stroke:currentColor;stroke-width:1.2}
.pairing-graph text{fill:currentColor;text-anchor:middle;paint-order:stroke;stroke:var(--paper);stroke-width:3px;
stroke-linejoin:round}
.pairing-graph .words{text-anchor:start;fill:var(--quiet);stroke:none}
.pairing-graph .title{text-anchor:start;font-size:17px;font-weight:600;stroke:none}
"""


def picture(
    graph: nx.Graph[str],
    title: str = "What goes with what",
    *,
    most: int = 60,
    strongest: int = 3,
    clashes: bool = False,
) -> str:
    """Draw the graph: every flavouring with its strongest pairs that are likely good.

    Parameters
    ----------
    graph : nx.Graph[str]
        From `graph` or `difference`.
    title : str
        Words above the picture.
    most : int
        Most nodes to draw: those with most likely pairs, then those with most trials.
    strongest : int
        How many pairs each flavouring brings (and as many clashes).
    clashes : bool
        Draw pairs that are likely worse than their parts, too; a difference always shows both ways.

    Returns
    -------
    str
        An SVG document: a line is thicker the more liking points the pair brings, fainter the less sure it is, dotted
        where nobody tried it; a node is larger the more trials it has had. In a picture of a difference, the second
        colour is for pairs that are better in the second base.

    Raises
    ------
    LogError
        If `most` is below 1 or the graph has no node.
    """
    if most < 1 or not graph:
        shown = min(most, len(graph))
        raise LogError(f"a picture of {shown} flavourings", "ask for at least 1, from a graph that has some")
    both_ways = clashes or "base_a" in graph.graph
    drawn = _chosen(graph, most, strongest, both_ways)
    labels = {node: _lines(str(graph.nodes[node].get("name") or node)) for node in drawn}
    radii = {node: 5 + min(9.0, 1.6 * math.sqrt(graph.nodes[node].get("trials", 0))) for node in drawn}
    boxes = {node: _box(labels[node], radii[node]) for node in drawn}
    at = places(drawn, boxes)
    shift = 2 * MARGIN_PX
    at = {node: (x + MARGIN_PX, y + MARGIN_PX + shift) for node, (x, y) in at.items()}
    colour = _colours(drawn)
    body = [_edge(graph, a, b, facts, at, boxes, radii) for a, b, facts in drawn.edges(data=True)]
    body += [_node(graph.nodes[node], node, at[node], boxes[node], radii[node], colour[node]) for node in drawn]
    body += [_label(labels[node], at[node], boxes[node], radii[node]) for node in drawn]
    return _page(graph, drawn, title, body, at, boxes)


def _value(facts: dict[str, Any]) -> float:
    """Liking points of an edge, whatever they are called."""
    return float(next(facts[name] for name in ("synergy", "affinity", "difference") if name in facts))


def _chosen(graph: nx.Graph[str], most: int, strongest: int, both_ways: bool) -> nx.Graph[str]:
    """Pick the edges that are likely, and the nodes to show."""
    kept: nx.Graph[str] = nx.Graph()
    for node in sorted(graph):
        kept.add_node(node)
        rows = sorted(
            ((abs(_value(facts)), other, facts) for other, facts in graph[node].items()),
            key=lambda row: (-row[0], row[1]),
        )
        good = [row for row in rows if row[2]["p_positive"] >= LIKELY]
        bad = [row for row in rows if row[2]["p_positive"] <= 1 - LIKELY] if both_ways else []
        for _, other, facts in good[:strongest] + bad[:strongest]:
            kept.add_edge(*sorted((node, other)), **facts)
    rank = sorted(kept, key=lambda node: (-kept.degree(node), -graph.nodes[node].get("trials", 0), node))
    drawn: nx.Graph[str] = nx.Graph()
    drawn.add_nodes_from(sorted(rank[:most]))
    drawn.add_edges_from((a, b, facts) for a, b, facts in kept.edges(data=True) if a in drawn and b in drawn)
    return drawn


def _colours(drawn: nx.Graph[str]) -> dict[str, int]:
    good: nx.Graph[str] = nx.Graph((a, b) for a, b, facts in drawn.edges(data=True) if _value(facts) > 0)
    linked = good.subgraph(sorted(good))
    found = nx.community.louvain_communities(linked, weight=None, seed=0) if len(linked) else []
    groups = sorted((sorted(group) for group in found), key=lambda group: (-len(group), group))
    return dict.fromkeys(drawn, HUES) | {node: min(k, HUES) for k, group in enumerate(groups) for node in group}


def _lines(name: str) -> list[str]:
    """Break a name into lines; what does not fit ends in an ellipsis, and the tooltip has all of it."""
    lines, words = [""], name.split()
    for word in words:
        joined = f"{lines[-1]} {word}".strip()
        if _width(joined) <= _width("n" * LABEL_CHARACTERS) or not lines[-1]:
            lines[-1] = joined
        else:
            lines.append(word)
    if len(lines) > LABEL_LINES:
        lines = [*lines[: LABEL_LINES - 1], " ".join(lines[LABEL_LINES - 1 :])]
    return [_cut(line) for line in lines]


def _cut(line: str) -> str:
    while _width(line) > _width("n" * (LABEL_CHARACTERS + 2)):
        line = line.rstrip("…")[:-1].rstrip() + "…"
    return line


def _width(text: str) -> float:
    """Room that a text takes at most, px: no font is asked; wide scripts count as square, others as broad letters."""
    return sum(FONT_PX * (1.0 if unicodedata.east_asian_width(sign) in "WF" else 0.62) for sign in text)


def _box(lines: list[str], radius: float) -> tuple[float, float]:
    return max(2 * radius, *map(_width, lines)) + 2, 2 * radius + LINE_PX * len(lines) + 4


def _node(
    facts: dict[str, Any], node: str, at: tuple[float, float], box: tuple[float, float], radius: float, colour: int
) -> str:
    x, y = at[0], at[1] - box[1] / 2 + radius
    words = [str(facts.get("name") or node)]
    if facts.get("family"):
        words.append(str(facts["family"]))
    if facts.get("points") is not None:
        words.append(f"{facts['points']:+.1f} liking points by itself")
    if "trials" in facts:
        words.append(f"{facts['trials']} trials")
    shape = f'<circle class="node" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"'
    if facts.get("kind") == "base":
        side = 2 * radius
        shape = f'<rect class="node" x="{x - radius:.1f}" y="{y - radius:.1f}" width="{side:.1f}" height="{side:.1f}"'
    return f'{shape} style="fill:var(--h{colour})"><title>{_safe(", ".join(words))}</title></{shape[1:].split()[0]}>'


def _label(lines: list[str], at: tuple[float, float], box: tuple[float, float], radius: float) -> str:
    x, top = at[0], at[1] - box[1] / 2 + 2 * radius + LINE_PX - 3
    rows = (f'<tspan x="{x:.1f}" y="{top + i * LINE_PX:.1f}">{_safe(line)}</tspan>' for i, line in enumerate(lines))
    return f"<text>{''.join(rows)}</text>"


def _edge(graph: nx.Graph[str], a: str, b: str, facts: dict[str, Any], at: Any, boxes: Any, radii: Any) -> str:
    (xa, ya), (xb, yb) = ((at[n][0], at[n][1] - boxes[n][1] / 2 + radii[n]) for n in (a, b))
    value, p = _value(facts), facts["p_positive"]
    tested = facts.get("tested", facts.get("tested_a", False) and facts.get("tested_b", False))
    kind = "edge" + (" clash" if value < 0 else "")
    sure = max(p, 1 - p)
    names = [str(graph.nodes[n].get("name") or n) for n in (a, b)]
    words = f"{names[0]} + {names[1]}: {value:+.1f} ± {Z80 * facts['sd']:.1f} liking points (80 %), "
    words += f"{'above' if value > 0 else 'below'} zero with probability {100 * sure:.0f} %, "
    words += f"{facts['trials']} trials" if facts.get("trials") else ("tried" if tested else "not tried")
    if facts.get("note"):
        words += f"; {facts['note']}"
    width, fade = 1.2 + min(6.0, 3 * abs(value)), 0.35 + 0.65 * (sure - LIKELY) / (1 - LIKELY)
    line = f'd="M{xa:.1f} {ya:.1f}L{xb:.1f} {yb:.1f}" stroke-width="{width:.1f}" stroke-opacity="{fade:.2f}"'
    line += "" if tested else f' stroke-dasharray="0.1 {2 * width + 2:.1f}"'
    return f'<path class="{kind}" {line}><title>{_safe(words)}</title></path>'


def _page(graph: nx.Graph[str], drawn: nx.Graph[str], title: str, body: list[str], at: Any, boxes: Any) -> str:
    words = _words(graph, drawn)
    right = max(at[node][0] + boxes[node][0] / 2 for node in drawn)
    width = max(right, *(_width(line) * 0.95 for line in (*words, title + title[: len(title) // 3]))) + MARGIN_PX
    bottom = max(at[node][1] + boxes[node][1] / 2 for node in drawn) + MARGIN_PX
    height = bottom + LINE_PX * len(words) + MARGIN_PX / 2
    legend = [
        f'<text class="words" x="{MARGIN_PX:.0f}" y="{bottom + LINE_PX * (i + 0.5):.1f}">{_safe(line)}</text>'
        for i, line in enumerate(words)
    ]
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="pairing-graph" role="img" width="{width:.0f}" '
            f'height="{height:.0f}" viewBox="0 0 {width:.0f} {height:.0f}">',
            f"<title>{_safe(title)}</title>",
            f"<desc>{_safe(' '.join(words))}</desc>",
            f"<style>{STYLE}</style>",
            f'<rect class="page" width="{width:.0f}" height="{height:.0f}"/>',
            f'<text class="title" x="{MARGIN_PX:.0f}" y="{MARGIN_PX + 6:.0f}">{_safe(title)}</text>',
            *body,
            *legend,
            "</svg>",
            "",
        ]
    )


def _words(graph: nx.Graph[str], drawn: nx.Graph[str]) -> list[str]:
    """Say what is drawn and how to read it."""
    total, lines = len(graph), drawn.number_of_edges()
    words = [f"{len(drawn)} of {total} shown; {lines} pairs, each likely (80 % or more)."]
    if not lines:
        return [*words, "No pair is likely good yet: log more cups with two flavourings."]
    if "base_a" in graph.graph:
        a, b = graph.graph["base_a"], graph.graph["base_b"]
        words.append(f"Blue: better in {a} than in {b}; orange: better in {b}. Thicker: more liking points.")
        return [*words, "Fainter: less sure. Dotted: not tried in both. Larger dot: more trials."]
    words.append("Thicker: more liking points beyond the two flavourings. Fainter: less sure. Dotted: nobody tried it.")
    if any(_value(facts) < 0 for _, _, facts in drawn.edges(data=True)):
        words.append("Blue: better together; orange: worse together.")
    return [*words, "Larger dot: more trials. Same colour: a group that goes together; grey: nothing likely yet."]


def _safe(text: str) -> str:
    return escape(xml_text(text))
