"""What goes wrong in a plugin is caught in exactly one file."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2]
BROAD = {"Exception", "BaseException", "SystemExit"}


def broad_handlers(source):
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ExceptHandler):
            names = {n.id for n in ast.walk(node.type) if isinstance(n, ast.Name)} if node.type else BROAD
            if names & BROAD and not raised_again(node):
                yield node.lineno


def raised_again(handler):
    """Whether a handler only tidies up: it has no way out but to raise what came, so nothing is caught."""
    last = handler.body[-1]
    ways_out = (ast.Return, ast.Break, ast.Continue, ast.Yield, ast.YieldFrom)
    return (
        isinstance(last, ast.Raise) and last.exc is None and not any(isinstance(n, ways_out) for n in ast.walk(handler))
    )


READERS = {"pairing/store/sheets.py", "pairing/store/sources.py"}
"""Readers of files from strangers: the libraries below them raise whatever a damaged file makes them meet."""


def test_what_goes_wrong_in_a_plugin_is_caught_in_the_guard_and_nowhere_else():
    files = [path for folder in ("pairing", "plugins") for path in (ROOT / folder).rglob("*.py")]
    catching = {str(path.relative_to(ROOT)) for path in files if list(broad_handlers(path.read_text("utf-8")))}
    assert catching == {"pairing/host/guard.py"} | READERS


def test_the_check_can_fail():
    assert list(broad_handlers("try:\n    pass\nexcept:\n    pass\n"))
    assert list(broad_handlers("try:\n    pass\nexcept (ValueError, Exception):\n    pass\n"))
    assert not list(broad_handlers("try:\n    pass\nexcept ValueError:\n    pass\n"))
    assert not list(broad_handlers("try:\n    pass\nexcept BaseException:\n    tidy_up()\n    raise\n"))
    assert list(
        broad_handlers("def f():\n    try:\n        pass\n    except Exception:\n        return 1\n        raise\n")
    )
