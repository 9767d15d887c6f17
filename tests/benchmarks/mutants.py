"""How many small faults the tests notice: a seeded sample of mutants by cosmic-ray (``pip install -e '.[mutants]'``).

``python tests/benchmarks/mutants.py FOLDER --number 200 --seed 1`` copies the project into FOLDER, learns once which
test runs which line, then changes one place of one module at a time and runs the tests that run that line, and the
rest of their files, the quickest file first. A place counts once, whatever can be put there; what changes only types
is left out. Tests that are slow, need a browser or install something are not run. What was tried is kept in FOLDER:
the same command goes on.

It needs a system that forks: libraries are loaded once for all mutants.
"""

import argparse
import ast
import contextlib
import difflib
import importlib
import json
import multiprocessing
import os
import random
import resource
import shutil
import signal
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import pytest

PACKAGES = ["quantities", "model", "nutrition", "learning", "plan", "blind"]
BESIDE = [
    "published",
    "discrimination",
    "stock",
    "graph",
    "safety",
    "learned",
    "evening",
    "report",
    "pooling",
    "testing",
]
LOADED = ["numpy", "pandas", "scipy.stats", "scipy.sparse.linalg", "sklearn.linear_model", "networkx"]
LOADED += ["sqlalchemy", "alembic", "statsmodels.api", "pint", "openpyxl"]
QUICK = ["-n0", "-q", "-x", "--no-header", "-p", "no:cacheprovider", "-m", "not (slow or browser or network)"]
HERE = Path(__file__).parents[2]
MOST_S = 60.0  # of tests for one mutant, by the processor time they took when nothing was changed


class Recorder:
    """Notes which lines of the package each test runs, and how much processor time it takes."""

    def __init__(self, cover):
        self.cover, self.seconds = cover, Counter()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.cover.switch_context(item.nodeid)
        begun = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.process_time() - begun


class Chosen:
    """Leaves the chosen tests, in their order."""

    def __init__(self, tests):
        self.place = {test: n for n, test in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items):
        items[:] = sorted((i for i in items if i.nodeid in self.place), key=lambda i: self.place[i.nodeid])


def in_child(tree, log, limit_s, work):
    """Run `work` in a forked process inside `tree`, and say how it ended: its exit code, or minus the signal."""

    def run():
        os.setsid()
        with log.open("wb") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
        if limit_s:
            resource.setrlimit(resource.RLIMIT_CPU, (round(limit_s), round(limit_s) + 5))
        os.chdir(tree)
        sys.path[:0] = [str(tree), str(tree / ".types")]
        os.environ["PYTHONPATH"] = os.pathsep.join(sys.path[:2])
        sys.exit(work())

    child = multiprocessing.get_context("fork").Process(target=run)
    child.start()
    child.join(10 * limit_s if limit_s else None)
    late = child.is_alive()
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child.pid, signal.SIGKILL)
    child.join()
    return -signal.SIGKILL if late else child.exitcode


def mapped(folder, tree):
    """Return the seconds of every test, and by module and line the tests that run it."""
    kept = folder / "tests.json"
    if not kept.exists():

        def measure():
            import coverage

            cover = coverage.Coverage(data_file=None, source=[str(tree / "pairing")], config_file=False)
            recorder = Recorder(cover)
            cover.start()
            paths = [f"tests/{name}" for name in PACKAGES + BESIDE]
            code = pytest.main([*[o for o in QUICK if o != "-x"], *paths], plugins=[recorder])
            cover.stop()
            data, lines = cover.get_data(), {}
            for name in data.measured_files():
                by_line = {n: [t for t in tests if t] for n, tests in data.contexts_by_lineno(name).items()}
                lines[str(Path(name).relative_to(tree))] = by_line
            kept.write_text(json.dumps([recorder.seconds, lines]), encoding="utf-8")
            return code

        if code := in_child(tree, folder / "map.log", 0, measure):
            sys.exit(f"the tests fail before anything is changed ({code}): see {folder / 'map.log'}")
    return json.loads(kept.read_text(encoding="utf-8"))


def places(tree):
    """List where something can be changed, with the operators that change it: {(module, place): [(name, n), …]}."""
    from cosmic_ray.ast import ast_nodes, get_ast_from_path
    from cosmic_ray.plugins import get_operator, operator_names

    plain = [name for name in sorted(operator_names()) if not get_operator(name).arguments() and "no-op" not in name]
    found = defaultdict(list)
    for module in sorted(path for name in PACKAGES for path in (tree / "pairing" / name).glob("*.py")):
        nodes = list(ast_nodes(get_ast_from_path(module)))
        for name in plain:
            operator = get_operator(name)()
            spots = [spot for node in nodes for spot in operator.mutation_positions(node)]
            for n, (start, _) in enumerate(spots):
                found[str(module.relative_to(tree)), tuple(start)].append((name, n))
    return dict(found)


def meaning(code):
    """Return what a module does: its tree without types; None where it is no Python."""
    try:
        tree = ast.parse(code)
    except SyntaxError:
        return None
    for node in ast.walk(tree):
        if isinstance(node, ast.arg):
            node.annotation = None
        elif isinstance(node, ast.FunctionDef):
            node.returns = None
        elif isinstance(node, ast.AnnAssign):
            node.annotation = ast.Constant(0)
        elif isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            node.test = ast.Constant(0)
    return ast.dump(tree)


def sample(tree, number, seed):
    """Yield `number` mutants as (module, (line, column), operator, code), by a shuffle that `seed` fixes."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    found, chance = places(tree), random.Random(seed)
    order = sorted(found)
    chance.shuffle(order)
    print(f"{len(order)} places in {len({module for module, _ in order})} modules", flush=True)
    for module, start in order:
        name, n = chance.choice(found[module, start])
        before = (tree / module).read_text(encoding="utf-8")
        code = mutate_code(before, get_operator(name)(), n)
        if code is None or meaning(code) in {None, meaning(before)}:
            continue
        yield module, start, name.removeprefix("core/"), code
        number -= 1
        if not number:
            return


def chosen(module, line, seconds, lines):
    """Return the tests of a line: file by file, those that run it first, then the others there; and if any runs it."""
    by_line = lines.get(module, {})
    near = [t for t in by_line.get(str(line), []) if t in seconds]
    runs = near or sorted({t for tests in by_line.values() for t in tests if t in seconds})
    first = defaultdict(list)
    for test in sorted(runs, key=lambda t: (seconds[t], t)):
        first[test.partition("::")[0]].append(test)
    tests, total = [], 0.0
    for file in sorted(first, key=lambda f: sum(seconds[t] for t in first[f])):
        rest = sorted((t for t in seconds if t.startswith(file + "::") and t not in set(first[file])), key=seconds.get)
        for test in first[file] + rest:
            if total + seconds[test] <= MOST_S:
                tests.append(test)
                total += seconds[test]
    return tests, total, bool(near)


def tried(tree, folder, mutant, seconds, lines):
    """Try one mutant: 'killed', 'timeout', 'survived', or 'untested' when no quick test runs its line."""
    module, (line, _), _, code = mutant
    tests, total, near = chosen(module, line, seconds, lines)
    if not tests:
        return "untested"
    path, stamp = tree / module, (tree / module).stat()
    before = path.read_bytes()
    try:
        path.write_text(code, encoding="utf-8")
        os.utime(
            path, (stamp.st_atime, stamp.st_mtime + 1 + random.randrange(10**8))
        )  # no compiled copy is taken for it
        files = sorted({test.partition("::")[0] for test in tests})
        code = in_child(
            tree, folder / "last.log", 4 * total + 40, lambda: pytest.main([*QUICK, *files], plugins=[Chosen(tests)])
        )
    finally:
        path.write_bytes(before)
        os.utime(path, (stamp.st_atime, stamp.st_mtime))
    if code in {-signal.SIGXCPU, -signal.SIGKILL}:
        return "timeout"
    if code:
        return "killed"
    return "survived" if near else "untested"


def main():
    """Try the sample and print what became of it, by package, and every mutant that lived."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--number", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    folder = args.folder.resolve()
    tree, kept = folder / "tree", folder / f"tried-{args.seed}.json"
    if not tree.exists():
        ignored = shutil.ignore_patterns(".git", "__pycache__", "*.egg-info", ".mypy_cache", ".ruff_cache")
        shutil.copytree(HERE, tree, symlinks=True, ignore=ignored)
    for name in LOADED:
        importlib.import_module(name)
    seconds, lines = mapped(folder, tree)
    done = json.loads(kept.read_text(encoding="utf-8")) if kept.exists() else {}
    by_package = defaultdict(Counter)
    for mutant in sample(tree, args.number, args.seed):
        module, (line, column), name, code = mutant
        key = f"{module}:{line}:{column} {name}"
        if key not in done:
            done[key] = tried(tree, folder, mutant, seconds, lines)
            kept.write_text(json.dumps(done), encoding="utf-8")
            print(f"{done[key]:8} {key}", flush=True)
        by_package[module.split("/")[1]][done[key]] += 1
        if done[key] in {"survived", "untested"}:
            old = (tree / module).read_text(encoding="utf-8").splitlines()
            print(*list(difflib.unified_diff(old, code.splitlines(), lineterm="", n=0))[3:], sep="\n", flush=True)
    for name, ends in {**by_package, "all": sum(by_package.values(), Counter())}.items():
        lived = ends["survived"] + ends["untested"]
        print(f"{name}: {ends.total() - lived} of {ends.total()} noticed {dict(ends)}")


if __name__ == "__main__":
    main()
