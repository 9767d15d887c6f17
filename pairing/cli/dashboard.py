"""Open the dashboard in the browser: map of pairings, dose curves, next trials, and the cup in hand."""

from __future__ import annotations

import argparse
import importlib.util
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

from pairing.cli.common import bench_path
from pairing.cli.output import Output
from pairing.cli.trust import add_trust, tell_trust
from pairing.errors import StoreError

SUMMARY = "open the dashboard in the browser"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare where it listens."""
    parser.add_argument("--port", type=int, default=8501, help="port (8501)")
    parser.add_argument("--address", default="localhost", help="address to listen on (localhost: this machine only)")
    add_trust(parser)
    parser.add_argument("--headless", action="store_true", help="start without opening a browser")


def run(args: argparse.Namespace, out: Output) -> int:
    """Start the dashboard on the bench and wait until it is stopped."""
    from pairing.host.trusted import EDITED

    app = app_file()
    path = bench_path(args)
    if "://" not in path and not Path(path).exists():
        raise StoreError(f"there is no bench in {path}", "pairing init makes one, pairing demo makes one to look at")
    environment = os.environ | {"PAIRING_BENCH": path if "://" in path else str(Path(path).resolve())}
    if args.plugins is not None:
        environment["PAIRING_PLUGINS"] = args.plugins
    if args.trust or args.editing:
        folder = tell_trust(args, out)
        environment |= {EDITED: folder} if args.editing else {}
    if args.address not in ("localhost", "127.0.0.1", "::1"):
        out.warn(f"Whoever reaches {args.address}:{args.port} can read and change this bench: there is no password.")
    out.say(f"The dashboard of {path} is at http://{args.address}:{args.port}. Stop it with Ctrl+C.")
    options = {"port": args.port, "address": args.address, "headless": str(args.headless).lower()}
    words = [word for name, value in options.items() for word in (f"--server.{name}", str(value))]
    command = [sys.executable, "-m", "streamlit", "run", str(app), *words, "--browser.gatherUsageStats", "false"]
    signal.signal(signal.SIGTERM, _stopped)  # whoever ends this process ends the server with it
    return subprocess.run(command, cwd=app.parent, env=environment, check=False).returncode


def _stopped(number: int, frame: object) -> NoReturn:
    raise SystemExit(0)


def app_file() -> Path:
    """Find the dashboard's first file.

    Raises
    ------
    StoreError
        When the libraries it needs are not installed.
    """
    found = importlib.util.find_spec("pairing_dashboard")
    if found is None or found.origin is None or importlib.util.find_spec("streamlit") is None:
        raise StoreError("the dashboard's libraries are not installed", "pip install 'pairing[dashboard]'")
    return Path(found.origin).with_name("app.py")
