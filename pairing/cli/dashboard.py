"""Open the dashboard in the browser: map of pairings, dose curves, next trials, and the cup in hand."""

from __future__ import annotations

import argparse
import importlib.util
import os
import signal
import socket
import subprocess
import sys
import webbrowser
from pathlib import Path
from time import sleep
from typing import NoReturn

from pairing.cli.common import bench_path
from pairing.cli.network import LOOPBACK, add_reach, reach
from pairing.cli.output import Output
from pairing.cli.sign_in import checked
from pairing.cli.trust import add_trust, tell_trust
from pairing.errors import StoreError
from pairing.running import lent
from pairing.store.database import is_url, shown

QUIET = {"server.headless": "true", "logger.hideWelcomeMessage": "true", "browser.gatherUsageStats": "false"}
"""Without these Streamlit asks for an email address at its first start, and asks another machine for our address."""
LOOK_S = 0.1
"""How often to look whether the server has begun to listen, s."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare where it listens."""
    add_reach(parser)
    add_trust(parser)
    parser.add_argument("--headless", action="store_true", help="start without opening a browser")


def run(args: argparse.Namespace, out: Output) -> int:
    """Start the dashboard on the bench and wait until it is stopped."""
    from pairing.host.trusted import EDITED

    app = app_file().with_name("served.py")
    path = bench_path(args)
    if not is_url(path) and not os.path.exists(path):
        raise StoreError(f"there is no bench in {path}", "pairing init makes one, pairing demo makes one to look at")
    environment = os.environ | {"PAIRING_BENCH": path if is_url(path) else str(Path(path).resolve())}
    if args.plugins is not None:
        environment["PAIRING_PLUGINS"] = args.plugins
    if args.trust or args.editing:
        folder = tell_trust(args, out)
        environment |= {EDITED: folder} if args.editing else {}
    who = reach(args)
    if _listens(who.here, args.port):
        raise StoreError(f"something else is at {who.here}:{args.port} already", "end it, or choose another --port")
    environment |= {"PAIRING_HOSTS": ",".join(who.hosts), "PAIRING_KEY": who.key or ""}
    environment |= {"PAIRING_SIGN_IN": checked(args.sign_in) if args.sign_in else ""}
    environment |= {"PAIRING_PHONES_URL": who.phones_url or ""}
    if args.open_to_everyone and who.address not in LOOPBACK:
        out.warn(f"Whoever reaches {who.address}:{args.port} can read and change this bench: there is no key.")
    out.say(f"The dashboard of {shown(path)} is at {who.url}. Stop it with Ctrl+C.")
    if who.phones_url:
        out.say("Phones in this network scan the code, or open this; whoever has it can change the bench:")
        out.say(who.phones_url)
    options = {"server.port": str(args.port), "server.address": who.address, **QUIET}
    if args.sign_in:
        options["secrets.files"] = environment["PAIRING_SIGN_IN"]
    if args.certificate:
        options |= {"server.sslCertFile": args.certificate, "server.sslKeyFile": args.certificate_key}
    words = [word for name, value in options.items() for word in (f"--{name}", value)]
    command = [sys.executable, "-m", "streamlit", "run", str(app), *words]
    signal.signal(signal.SIGTERM, _stopped)  # whoever ends this process ends the server with it
    with lent():
        server = subprocess.Popen(command, cwd=app.parent, env=environment, stdin=subprocess.DEVNULL)
    try:
        while server.poll() is None and not _listens(who.here, args.port):
            sleep(LOOK_S)
        if server.poll() is None and not args.headless and _can_show():
            webbrowser.open(who.url)
        return server.wait()
    finally:
        server.kill()


def _stopped(number: int, frame: object) -> NoReturn:
    raise SystemExit(0)


def _listens(host: str, port: int) -> bool:
    try:
        socket.create_connection((host, port), timeout=1).close()
    except (OSError, UnicodeError):
        return False
    return True


def _can_show() -> bool:
    """Whether there is a screen: without one a browser for the terminal would take it over."""
    names = ("BROWSER", "DISPLAY", "WAYLAND_DISPLAY")
    return sys.platform in ("win32", "darwin") or any(os.environ.get(name) for name in names)


def app_file() -> Path:
    """Find the dashboard's first file.

    Raises
    ------
    StoreError
        When the libraries it needs are not installed.
    """
    found = importlib.util.find_spec("pairing_dashboard")
    if found is None or found.origin is None or importlib.util.find_spec("streamlit") is None:
        raise StoreError("the dashboard's libraries are not installed", "pip install streamlit altair")
    return Path(found.origin).with_name("app.py")
