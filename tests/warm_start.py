"""Dashboards that start at once: the standard library's fork server loads everything and forks one for each bench.

Each is a process of its own all the same, with its own environment, folder and output; only the loading of the
libraries, some seconds of processor time, is not done again for every test. What has to show that loading works, and
what measures it, starts the program itself.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from multiprocessing.process import BaseProcess
from pathlib import Path

LOADED = [
    "streamlit.web.bootstrap",
    "streamlit.web.cli",
    "streamlit.starlette",
    "altair",
    "segno",
    "pairing.api",
    "pairing.bench",
    "pairing.learning.evidence",
    "pairing_dashboard.navigation",
]


def serve(words: list[str], folder: Path, environment: dict[str, str], log: Path) -> None:
    """Become ``streamlit WORDS`` in a folder, with an environment, that writes into a file."""
    from streamlit.web.cli import main

    with log.open("ab") as out:
        for stream in (1, 2):
            os.dup2(out.fileno(), stream)
    os.environ.clear()
    os.environ.update(environment)
    os.chdir(folder)
    sys.argv = ["streamlit", *words]
    main()


def start(words: list[str], folder: Path, environment: dict[str, str], log: Path) -> BaseProcess:
    """Fork a process that serves."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(LOADED)
    process = context.Process(target=serve, args=(words, folder, environment, log), daemon=True)
    process.start()
    return process
