"""What goes wrong in a plugin is caught in exactly one file."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2]
BROAD = {"Exception", "BaseException", "SystemExit"}


def broad_handlers(source):
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ExceptHandler):
            names = {n.id for n in ast.walk(node.type) if isinstance(n, ast.Name)} if node.type else BROAD
            if names & BROAD:
                yield node.lineno


def test_everything_is_caught_in_the_guard_and_nowhere_else():
    files = [path for folder in ("pairing", "plugins") for path in (ROOT / folder).rglob("*.py")]
    catching = {str(path.relative_to(ROOT)) for path in files if list(broad_handlers(path.read_text("utf-8")))}
    assert catching == {"pairing/host/guard.py"}


def test_the_check_can_fail():
    assert list(broad_handlers("try:\n    pass\nexcept:\n    pass\n"))
    assert list(broad_handlers("try:\n    pass\nexcept (ValueError, Exception):\n    pass\n"))
    assert not list(broad_handlers("try:\n    pass\nexcept ValueError:\n    pass\n"))
