"""Building wheels and installing them into environments that have the libraries, but not this project."""

import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).parents[1]


def tracked() -> list[Path]:
    """Files of the project: those that git knows, or all of an unpacked archive."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode == 0 and listed.stdout:
        found = [Path(name) for name in listed.stdout.split("\0") if name]
    else:
        found = [p.relative_to(ROOT) for p in ROOT.rglob("*") if p.is_file()]
    left_out = {".git", ".venv", "__pycache__", "build", "dist"}
    return [p for p in found if not left_out & set(p.parts) and (ROOT / p).exists()]


def copy_source(folder: Path) -> Path:
    """Copy the source, so that building leaves nothing behind."""
    for path in tracked():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / path, folder / path, follow_symlinks=False)
    return folder


def build_wheel(source: Path, folder: Path) -> Path:
    """Build a wheel with the build tools of this environment, without a warning."""
    how = ("--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), "--verbose")
    said = pip(sys.executable, "wheel", str(source), *how)
    assert "Warning" not in said, said
    return next(folder.glob("*.whl"))


def pip(python: str | Path, *words: str) -> str:
    """Run pip for an environment, which need not have it, and return what it said."""
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", str(python), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def fresh_environment(folder: Path) -> Path:
    """Return the Python of an environment that has this one's libraries, but not this package."""
    venv.create(folder, with_pip=False, symlinks=sys.platform != "win32")
    python = folder / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    site = run(python, "import sysconfig; print(sysconfig.get_path('purelib'))", folder).strip()
    here = [p for p in sys.path if "site-packages" in p or "dist-packages" in p]
    # A path file is not read from a folder that another one names: this project's editable install stays unseen.
    (Path(site) / "libraries.pth").write_text("\n".join(here) + "\n", encoding="utf-8")
    return python


def run(python: Path, code: str, cwd: Path) -> str:
    """Run code there and return what it prints."""
    done = subprocess.run([str(python), "-c", code], cwd=cwd, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
