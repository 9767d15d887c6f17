"""The script that runs all checks runs the README's command, and ends as pytest ended."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a shell script")


def run(folder, command):
    """Run the script in a project whose README has this command under 'Test it'."""
    (folder / ".ci").mkdir()
    shutil.copy2(ROOT / ".ci" / "run", folder / ".ci" / "run")
    other = "```sh\nfalse\n```"
    text = f"# x\n\n## Run it\n\n{other}\n\n## Test it\n\n```sh\n{command}\n```\n\n## More\n\n{other}\n"
    (folder / "README.md").write_text(text, encoding="utf-8")
    browser = folder / "bin" / "chromium"
    browser.parent.mkdir()
    browser.write_text("#!/bin/sh\n", encoding="utf-8")
    browser.chmod(0o755)
    environment = os.environ | {"PATH": f"{browser.parent}{os.pathsep}{os.environ['PATH']}"}
    return subprocess.run(
        [folder / ".ci" / "run"], cwd="/", env=environment, capture_output=True, text=True, check=False
    )


def test_closing_line_comes_last_and_the_exit_code_is_that_of_the_command(tmp_path):
    done = run(tmp_path, "echo '=== 2 failed, 5 passed in 0.12s ==='; echo afterwards; exit 3")
    assert done.returncode == 3
    assert done.stdout.splitlines()[-1] == "=== 2 failed, 5 passed in 0.12s ==="


def test_real_tests_pass_and_fail(tmp_path):
    (tmp_path / "good").mkdir()
    (tmp_path / "bad").mkdir()
    for name, holds in (("good", "True"), ("bad", "False")):
        (tmp_path / name / "test_x.py").write_text(f"def test_x():\n    assert {holds}\n", encoding="utf-8")
        done = run(tmp_path / name, f"{sys.executable} -m pytest -p no:cacheprovider")
        assert done.returncode == (0 if name == "good" else 1)
        assert ("1 passed" if name == "good" else "1 failed") in done.stdout.splitlines()[-1]


def test_browser_tests_may_not_be_skipped_there(tmp_path):
    done = run(tmp_path, "echo CI=$CI BROWSER=$REQUIRE_BROWSER")
    assert "CI=true BROWSER=1" in done.stdout


def test_a_readme_without_a_command_is_refused(tmp_path):
    done = run(tmp_path, "")
    assert done.returncode == 2
