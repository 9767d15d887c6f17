"""Nothing is asked of the system that Windows or macOS lack, or it stands behind a guard with something in its place.

What each system has is read from typeshed, the types of the standard library that come with mypy.
"""

import ast
from functools import cache
from pathlib import Path

import mypy

ROOT = Path(__file__).parents[2]
FILES = sorted(
    path for room in ("pairing", "plugins", "dashboard", "demo_data") for path in (ROOT / room).rglob("*.py")
)
STUBS = Path(mypy.__file__).parent / "typeshed" / "stdlib"
GUARDED = {
    ("pairing/store/turns.py", "fcntl"),  # without it everybody takes part in SQLite's own lottery
    ("pairing/store/turns.py", "os.pread"),  # reached with fcntl alone
    ("pairing/store/turns.py", "os.pwrite"),
    ("pairing/host/served.py", "resource"),  # without it no limit of memory, and the manual says so
    ("pairing/host/served.py", "os.sysconf"),
    ("pairing/host/served.py", "/proc/self/statm"),  # only Linux has it: OSError elsewhere, no limit then
}
OWN_PLACES = ("/proc/", "/dev/", "/tmp/", "/etc/", "/usr/", "/var/", "/home/", "C:\\")


def holds(test, system):
    """Whether a condition of a stub holds on a system; what is asked of the version of Python counts as true."""
    match test:
        case ast.BoolOp(op=ast.And(), values=values):
            return all(holds(value, system) for value in values)
        case ast.BoolOp(values=values):
            return any(holds(value, system) for value in values)
        case ast.Compare(left=ast.Attribute(attr="platform"), ops=[op], comparators=[ast.Constant(value=named)]):
            return (named == system) == isinstance(op, ast.Eq)
    return True


def names(body, system):
    """Yield what a stub defines on a system."""
    for node in body:
        match node:
            case ast.If():
                yield from names(node.body if holds(node.test, system) else node.orelse, system)
            case ast.FunctionDef() | ast.ClassDef():
                yield node.name
            case ast.AnnAssign(target=ast.Name(id=name)):
                yield name
            case ast.Assign(targets=[ast.Name(id=name)]):
                yield name


@cache
def lacking(module):
    """Return the names of a module that Linux has and Windows or macOS has not; empty for one that is no stub."""
    path = next((p for p in (STUBS / f"{module}.pyi", STUBS / module / "__init__.pyi") if p.exists()), None)
    if path is None:
        return set()
    body = ast.parse(path.read_text("utf-8")).body
    linux, mac, windows = (set(names(body, system)) for system in ("linux", "darwin", "win32"))
    return (linux - (mac & windows)) | ({"*"} if linux and all(n.startswith("_") for n in windows) else set())


def asked(source):
    """Yield what a file asks of the system that some systems lack, and the places that it names."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import():
                yield from (a.name for a in node.names if "*" in lacking(a.name))
            case ast.ImportFrom(module=str(module), level=0):
                yield from (f"{module}.{a.name}" for a in node.names if a.name in lacking(module))
            case ast.Attribute(value=ast.Name(id=module), attr=name):
                if name in lacking(module) and "*" not in lacking(module):
                    yield f"{module}.{name}"
            case ast.Constant(value=str(text)) if text.startswith(OWN_PLACES):
                yield text


def test_what_some_systems_lack_is_known():
    assert {"fork", "getuid", "pread", "killpg"} <= lacking("os")
    assert {"SIGKILL", "alarm"} <= lacking("signal")
    assert all("*" in lacking(module) for module in ("fcntl", "resource", "pwd", "termios"))
    assert not lacking("json") | lacking("pathlib")
    assert list(asked("import os, fcntl\nfrom signal import SIGKILL\nos.fork()\nopen('/dev/null')\nos.getcwd()")) == [
        *("fcntl", "signal.SIGKILL", "os.fork", "/dev/null")
    ]


def test_nothing_is_asked_that_some_systems_lack_without_a_guard():
    found = {(path.relative_to(ROOT).as_posix(), what) for path in FILES for what in asked(path.read_text("utf-8"))}
    assert found == GUARDED
