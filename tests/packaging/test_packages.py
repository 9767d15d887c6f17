"""The list of packages in pyproject.toml is by hand: it names every folder of code, and the wheel holds every file."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from clean_env import ROOT, build_wheel, copy_source, fresh_environment, pip, run, tracked

import pairing

PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
FOLDERS = PYPROJECT["tool"]["setuptools"]["package-dir"]
"""Folder in the source of each top-level package."""
INSTALLING = re.search(r"^## Hand it on\n.*?^```sh\n(.*?)^```$", (ROOT / "README.md").read_text("utf-8"), re.M | re.S)[
    1
]
"""What the README says of building a wheel and installing it."""


def shipped(path: Path) -> str | None:
    """Return a source file's name in the wheel, None where it stays at home."""
    package = next((name for name, folder in FOLDERS.items() if path.parts[0] == folder), None)
    return None if package is None else "/".join((package, *path.parts[1:]))


def test_package_list_names_every_folder_of_code():
    inits = [shipped(p) for p in tracked() if p.name == "__init__.py"]
    found = {name.removesuffix("/__init__.py").replace("/", ".") for name in inits if name}
    templates = {name for name in found if ".templates" in name}
    assert set(PYPROJECT["tool"]["setuptools"]["packages"]) == found - templates


def test_every_module_lies_in_a_listed_package():
    listed = set(PYPROJECT["tool"]["setuptools"]["packages"])
    modules = [name for p in tracked() if p.suffix == ".py" and (name := shipped(p)) and "templates" not in name]
    outside = [name for name in modules if name.rpartition("/")[0].replace("/", ".") not in listed]
    assert not outside


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    return copy_source(tmp_path_factory.mktemp("source"))


@pytest.fixture(scope="module")
def wheel(source, tmp_path_factory):
    return build_wheel(source, tmp_path_factory.mktemp("wheel"))


@pytest.mark.slow
def test_wheel_holds_every_file_and_nothing_else(wheel):
    names = {n for n in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in n}
    wanted = {name for path in tracked() if (name := shipped(path))}
    assert names == wanted
    assert {name.split("/")[0] for name in names} == set(FOLDERS)


@pytest.mark.slow
def test_hidden_truth_of_the_demo_stays_at_home(wheel):
    content = zipfile.ZipFile(wheel)
    assert not [n for n in content.namelist() if "truth" in n or n.startswith("tests")]
    assert not [n for n in content.namelist() if n.endswith(".py") and b"_NEW_TOGETHER" in content.read(n)]


@pytest.mark.slow
def test_wheel_works_in_a_clean_environment(wheel, tmp_path):
    python = fresh_environment(tmp_path / "env")
    assert "no" in run(python, "import importlib.util as u; print('yes' if u.find_spec('pairing') else 'no')", tmp_path)
    pip(python, "install", "--no-index", f"{wheel}[dashboard]")  # what it requires is there already, or this fails
    where = run(python, "import pairing, pairing_plugins, pairing_dashboard; print(pairing.__file__)", tmp_path)
    assert str(tmp_path) in where
    command = python.with_name("pairing")
    said = subprocess.run([command, "--version"], capture_output=True, text=True, check=True).stdout
    assert said == f"pairing {pairing.__version__}\n"
    done = subprocess.run([command, "demo", "-n", "1"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Barley water" in done.stdout


@pytest.mark.slow
def test_wheel_goes_by_its_own_name_and_carries_its_licence(wheel):
    """Where the name of the distribution is not free, pip would install somebody else's instead."""
    name = f"{PYPROJECT['project']['name'].replace('-', '_')}-{pairing.__version__}"
    assert wheel.name == f"{name}-py3-none-any.whl"
    content = zipfile.ZipFile(wheel)
    licence = content.read(f"{name}.dist-info/licenses/pairing/LICENSE").decode()
    assert licence == (ROOT / "pairing" / "LICENSE").read_text("utf-8")
    about = content.read(f"{name}.dist-info/METADATA").decode()
    assert "License-Expression: MIT" in about
    assert (*INSTALLING.splitlines(),)[1] == f"pip install 'dist/{wheel.name}[dashboard]'"


@pytest.mark.network
@pytest.mark.slow
@pytest.mark.skipif(not os.environ.get("CI"), reason="installs everything anew; set CI=true to run it")
def test_wheel_installs_into_an_empty_environment_as_the_readme_says(source, tmp_path):
    for folder in (source / ".venv", tmp_path / "elsewhere"):
        subprocess.run([sys.executable, "-m", "venv", folder], check=True)
    bin_folder = "Scripts" if sys.platform == "win32" else "bin"
    path = os.pathsep.join([str(tmp_path / "elsewhere" / bin_folder), os.environ["PATH"]])
    env = os.environ | {"PATH": path, "PIP_NO_COMPILE": "1"}  # most of it is never run
    for line in [*INSTALLING.splitlines(), "pairing demo -n 1"]:
        done = subprocess.run(line, shell=True, cwd=source, env=env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout + done.stderr
    assert "Barley water" in done.stdout


@pytest.mark.slow
def test_editable_install_works_in_a_clean_environment(source, tmp_path):
    python = fresh_environment(tmp_path / "env")
    pip(python, "install", "--no-deps", "--no-build-isolation", "--no-index", "--editable", str(source))
    code = "import pairing, pairing_plugins, pairing_dashboard, pairing_demo_data as demo; print(pairing, demo)"
    assert run(python, code, tmp_path).count(str(source)) == 2
