"""No code reads what is written for people: facts travel as values.

This sees texts by the names under which the project keeps them; what passes under another name, it does not see.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
READS = frozenset(
    [
        "startswith",
        "endswith",
        "split",
        "rsplit",
        "partition",
        "rpartition",
        "removeprefix",
        "removesuffix",
        "replace",
        "find",
        "index",
    ]
)
ONE = frozenset(
    [
        "reason",
        "caution",
        "lack",
        "fault",
        "note",
        "sentence",
        "hint",
        "remedy",
        "happened",
        "message",
        "cannot_know",
        "line",
        "text",
    ]
)
"""Attributes that hold words for people."""
SEVERAL = frozenset(["reasons", "cautions", "notes", "sentences", "hints", "faults", "lacks", "unknown", "assumptions"])
"""Attributes and variables that hold several of them."""
NAMES = ONE - {"line", "text", "message"}
"""Variables that hold one; lines and texts are what parsers read."""


def _name(node: ast.AST) -> str:
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def readings(source: str) -> Iterator[str]:
    """Yield every place where a source text takes words for people apart, or searches them."""
    tree = ast.parse(source)
    loops = [n for n in ast.walk(tree) if isinstance(n, ast.For | ast.comprehension)]
    told = {_name(n.target) for n in loops if _name(n.iter) in SEVERAL} - {""}

    def is_words(node: ast.AST) -> bool:
        if isinstance(node, ast.Attribute):
            return node.attr in ONE
        if isinstance(node, ast.Call):
            return _name(node.func) in ("str", "sentence") and any(map(is_words, node.args))
        return isinstance(node, ast.Name) and node.id in told | NAMES

    for node in ast.walk(tree):
        method = node.func if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) else None
        if method is not None and method.attr == "endswith" and not any(map(str.isalnum, ast.unparse(node.args[0]))):
            continue  # whether a sentence is finished is typography
        taken = method is not None and method.attr in READS and is_words(method.value)
        searched = method is not None and _name(method.value) == "re" and any(map(is_words, node.args))
        inside = isinstance(node, ast.Compare) and any(isinstance(op, ast.In | ast.NotIn) for op in node.ops)
        if taken or searched or (inside and any(map(is_words, node.comparators))):
            yield f"line {node.lineno}: {ast.unparse(node)}"


FILES = [path for folder in ("pairing", "dashboard", "plugins") for path in sorted((ROOT / folder).rglob("*.py"))]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_code_reads_words_for_people(path):
    assert not list(readings(path.read_text("utf-8")))


@pytest.mark.parametrize(
    "source",
    [
        "[u.removesuffix(' lacks ethanol') for u in found.unknown if u.endswith(' lacks ethanol')]",
        "for text in unknown:\n    item, _, what = text.partition(' lacks ')",
        "[one for one in suggestion.reasons if not one.startswith(suggestion.purpose)]",
        "key = ': lost ' in reason, 0",
        "replace(fault, plugin='').line.removeprefix('plugin : ')",
        "re.search('gained', str(reason))",
        "if 'milk' in caution.text: pass",
    ],
)
def test_check_can_fail(source):
    assert list(readings(source))


def test_check_lets_values_pass():
    assert not list(readings("[r.points for r in s.reasons if r.kind in KINDS]\nif f in reason.flavouring_ids: pass"))
    assert not list(readings("for line in text.split('\\n'):\n    print(line.strip())"))
