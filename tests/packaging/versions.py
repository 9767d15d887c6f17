"""Test with the oldest or the newest allowed version of every dependency.

    python3.11 tests/packaging/versions.py oldest [words for pytest]
    python3.13 tests/packaging/versions.py newest [words for pytest]

makes a fresh environment for the Python that runs it, installs the project into it, and runs the tests there; what
only tests need is as new as can be.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
TOOLS = "test"
_REQUIRED = re.compile(r"(?P<name>[\w-]+)(?:\[[\w,]+\])?>=(?P<oldest>[\w.]+)$")


def oldest(project: dict[str, Any]) -> list[str]:
    """Pin every dependency of the package and of its extras to the oldest version that is allowed."""
    asked = [*project["dependencies"]]
    for extra, names in project["optional-dependencies"].items():
        asked += names if extra not in (TOOLS, "bench", "mutants") else []
    found = [_REQUIRED.match(one) for one in asked]
    return [f"{one['name']}=={one['oldest']}" for one in found if one]


def main(which: str, *words: str) -> int:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        python = Path(folder, "Scripts" if sys.platform == "win32" else "bin", "python")
        pins = Path(folder, "pins.txt")
        pins.write_text("\n".join(oldest(project) if which == "oldest" else []), encoding="utf-8")
        install = [python, "-m", "pip", "install", "--quiet", "--constraint", pins, "-e", f"{ROOT}[{TOOLS}]"]
        if done := subprocess.run(install, check=False).returncode:
            return done
        listed = subprocess.run([python, "-m", "pip", "freeze"], capture_output=True, text=True, check=True).stdout
        names = {re.split(r"[=<>\[]", one)[0].lower() for one in oldest(project)}
        print(f"Python {sys.version.split()[0]}:", *(v for v in listed.split() if v.split("==")[0].lower() in names))
        return subprocess.run([python, "-m", "pytest", *words], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    if len(sys.argv) < 2 or sys.argv[1] not in ("oldest", "newest"):
        raise SystemExit(__doc__)
    raise SystemExit(main(*sys.argv[1:]))
