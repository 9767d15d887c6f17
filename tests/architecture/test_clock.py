"""No test reads the clock: what must not grow is counted, and a busy machine finds what an idle one finds."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CLOCKS = {
    "time": {"time", "perf_counter", "process_time", "monotonic", "thread_time", "clock_gettime"},
    "datetime": {"now", "utcnow", "today"},
    "date": {"today"},
    "resource": {"getrusage"},
    "os": {"times"},
}
"""What tells the time, by the module or class that has it; each stands for its ``_ns`` form as well."""
ONE_PROFILE = ROOT / "tests" / "conftest.py"
"""Where property tests are told to run without a deadline, for all of them."""


def is_test(path):
    """Benchmarks may time, beside something else in the same run; tests among them may not."""
    return "benchmarks" not in path.parts or path.name.startswith("test_")


TESTS = [path for path in sorted((ROOT / "tests").rglob("*.py")) if is_test(path)]
TESTS += [*sorted((ROOT / "pairing" / "testing").glob("*.py")), *sorted((ROOT / "pairing" / "scaffold").glob("test_*"))]


def clocks(text):
    """Yield what a module uses to tell the time, or gives a property a deadline with."""
    for node in ast.walk(ast.parse(text.replace("$", "a_"))):  # templates of tests have names to fill in
        if isinstance(node, ast.Import):
            yield from (a.name for a in node.names if a.name.partition(".")[0] in ("timeit", "pyperf"))
        elif isinstance(node, ast.ImportFrom):
            names = {a.name.removesuffix("_ns") for a in node.names}
            yield from names & (CLOCKS.get(node.module or "", set()) - {"now", "utcnow", "today"})
            yield from {"timeit"} if node.module == "timeit" else ()
        elif isinstance(node, ast.Attribute):
            owner = getattr(node.value, "attr", getattr(node.value, "id", ""))
            yield from {node.attr.removesuffix("_ns")} & CLOCKS.get(owner, set())
        elif isinstance(node, ast.keyword) and node.arg == "deadline":
            yield "deadline"


@pytest.mark.parametrize("path", TESTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_test_reads_the_clock(path):
    found = set(clocks(path.read_text("utf-8"))) - ({"deadline"} if path == ONE_PROFILE else set())
    assert found == set(), "count statements, steps, calls or bytes instead, or make it a benchmark"


def test_properties_have_no_deadline():
    from hypothesis import HealthCheck, settings

    assert settings.default.deadline is None
    assert HealthCheck.too_slow in settings.default.suppress_health_check


@pytest.mark.parametrize(
    "text",
    [
        "import time\nstart = time.time()",
        "import time as t\nimport time\ntime.perf_counter_ns()",
        "from time import monotonic",
        "from time import process_time_ns as cpu",
        "import timeit",
        "from timeit import default_timer",
        "import datetime as dt\ndt.datetime.now()",
        "from datetime import datetime\ndatetime.utcnow()",
        "import datetime\ndatetime.date.today()",
        "import resource\nresource.getrusage(resource.RUSAGE_SELF)",
        "import os\nos.times()",
        "@settings(deadline=200)\ndef test_it(): pass",
    ],
)
def test_a_clock_is_found(text):
    assert list(clocks(text))


@pytest.mark.parametrize("text", ["import time\ntime.sleep(1)", "bench.time = 3", "from datetime import date"])
def test_what_is_no_clock_is_left_alone(text):
    assert list(clocks(text)) == []
