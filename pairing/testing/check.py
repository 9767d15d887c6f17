"""Running the contract of all that a plugin file brings, in a process of its own, before anybody trusts the file."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

from pairing.errors import PluginError
from pairing.host.find import plugin_name
from pairing.host.handshake import marked
from pairing.testing import contracts, planning, rules

__all__ = ["Checked", "check_file", "contracts_for"]

SECONDS = 120.0
"""Time after which the whole check is stopped (our choice)."""
_BY_HOOK: Mapping[str, type[contracts.PluginContract]] = {
    "pairing_bases": contracts.BaseContract,
    "pairing_flavourings": contracts.FlavouringContract,
    "pairing_rules": rules.RuleContract,
    "pairing_limits": planning.LimitContract,
    "pairing_goals": planning.GoalContract,
    "pairing_baselines": planning.BaselineContract,
    "pairing_writers": contracts.FormatContract,
    "pairing_compositions": contracts.CompositionContract,
}
_AUTHORS = ("test_every_rule_says_something", "test_a_known_name_is_found", "test_known_answers")
"""What only the author can say: whether a rule that is silent on the sample is meant to be, and what is known."""
_OURS = re.compile(r'^failed on setup with "|pairing\.errors\.PluginError: plugin tested: |(?<=\))"$')
"""What pytest and strict loading put round the words of a fault."""
_TEST = """
import sys
from pathlib import Path
from pairing.host.find import file_found
from pairing.testing.check import contracts_for

module = file_found({name!r}, Path({path!r}), Path({path!r}).read_bytes(), True).bring()
for number, contract in enumerate(contracts_for(module, {settings!r})):
    globals()[f"Test{{number}}"] = contract
"""


@dataclass(frozen=True)
class Checked:
    """One test of the contract: what it holds, whether it is kept, and if not, what was found."""

    test: str
    result: str
    found: str = ""


def contracts_for(module: Any, settings: Mapping[str, Any]) -> list[type]:
    """Return the contract tests for all that a plugin's hooks bring; always those that every plugin has to pass."""
    hooks = dict(marked(module))
    kinds = [kind for hook, kind in _BY_HOOK.items() if hook in hooks] or [contracts.PluginContract]
    without = dict.fromkeys(_AUTHORS)
    once = dict.fromkeys(test for test in vars(contracts.PluginContract) if test.startswith("test_"))
    given = {"plugin": module, "settings": settings, **without}
    return [type(f"Test{kind.__name__}", (kind,), given | (once if kind != kinds[0] else {})) for kind in kinds]


def check_file(path: Path, settings: Mapping[str, Any] | None = None, seconds: float = SECONDS) -> list[Checked]:
    """Run a plugin file's contract and return what came of each test.

    Parameters
    ----------
    path : Path
    settings : mapping, optional
        The plugin's.
    seconds : float
        After which everything is stopped.

    Raises
    ------
    PluginError
        When there is no such file, it cannot be run at all, or does not end.
    """
    path = path.resolve()
    if not path.is_file():
        raise PluginError(f"there is no file {path}", "name the plugin's file")
    with tempfile.TemporaryDirectory() as folder:
        test, report = Path(folder) / "test_contract.py", Path(folder) / "report.xml"
        test.write_text(
            _TEST.format(name=plugin_name(path.stem), path=str(path), settings=dict(settings or {})), "utf-8"
        )
        command = [sys.executable, "-m", "pytest", "-q", "--noconftest", "-p", "no:cacheprovider", "-p", "no:xdist"]
        command += ["--import-mode=importlib", "--rootdir", folder, "-c", os.devnull, f"--junitxml={report}", str(test)]
        try:
            done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=seconds, cwd=folder)
        except subprocess.TimeoutExpired:
            told = f"{path.name} does not end: it was stopped after {seconds:g} s"
            raise PluginError(told, "let it import and answer in a moment") from None
        if not report.exists():
            said = (done.stdout + done.stderr).strip().splitlines()
            told = f"{path.name} ended the check: {said[-1] if said else f'exit code {done.returncode}'}"
            raise PluginError(told, "remove what ends the program")
        return [_checked(case) for case in ET.parse(report).iter("testcase")]


def _checked(case: ET.Element) -> Checked:
    words = str(case.get("name", "")).removeprefix("test_").replace("_", " ")
    for kind in ("failure", "error", "skipped"):
        if (found := case.find(kind)) is not None:
            message = _OURS.sub("", " ".join((found.get("message") or "").split()))
            return Checked(words, "left out" if kind == "skipped" else "broken", message)
    return Checked(words, "kept")
