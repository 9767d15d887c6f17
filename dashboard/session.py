"""What the pages share: the bench, the model learned from it, and the cup in hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError, TableError
from pairing.safety.today import midnight
from pairing.store.database import FILE_NAME, is_url
from pairing.store.places import default_place
from pairing.version import __version__
from pairing_dashboard import parts, people
from pairing_dashboard.background import begun, waited_for
from pairing_dashboard.cup.draft import Draft

if TYPE_CHECKING:
    import pandas as pd

    from pairing.bench import Bench
    from pairing.host import Host
    from pairing.learned import Learned
    from pairing.model.shelf import Shelf
    from pairing.safety.swallowed import Tally
    from pairing.store.load_report import LoadReport

__all__ = [
    "bench",
    "bench_path",
    "cup_id",
    "host",
    "learning",
    "load",
    "model",
    "plugins_are_loaded",
    "ready_to_learn",
    "reload_plugins",
    "save",
    "shelf",
    "state_key",
    "swallowed",
    "table",
    "take_on",
    "taken",
    "targets",
    "views",
    "watch",
    "watch_cup",
]

_loaded: set[str] = set()
"""Benches whose plugins this process has loaded."""


def bench_path() -> str:
    """Folder or URL of the bench: ``$PAIRING_BENCH``, else ``./bench``."""
    return default_place()


def bench() -> Bench | None:
    """Open the bench, or say why it cannot be opened and stop the page; None where there is none yet."""
    if not _is_there():
        return None
    try:
        return _open(bench_path(), *people.who())
    except PairingError as error:
        parts.problem(error)
        st.stop()


def _is_there() -> bool:
    path = bench_path()
    return is_url(path) or (Path(path) / FILE_NAME).exists()


@st.cache_resource(show_spinner=False)
def _open(path: str, author: str, role: str) -> Bench:
    from pairing.bench import Bench

    return Bench.open(path, author=author, role=role)


def state_key(of: Bench) -> str:
    """Text that changes whenever something learned may change: log, plugins, settings, or what others know."""
    return f"{__version__}|{of.revision}|{host(of).fingerprint}|{sorted(of.settings.items())}|{of.adopted_mark}"


def shelf(of: Bench) -> Shelf:
    """Bases, flavourings and tasters of the bench as they stand."""
    return _shelf(bench_path(), of.revision, of)


@st.cache_resource(show_spinner=False, max_entries=2)
def _shelf(path: str, revision: int, _bench: Bench) -> Shelf:
    return _bench.shelf()


def swallowed(of: Bench) -> Mapping[str, Tally]:
    """Return what everybody swallowed today, of the cups in the log."""
    return _swallowed(bench_path(), of.revision, midnight(), of)


@st.cache_resource(show_spinner=False, max_entries=2)
def _swallowed(path: str, revision: int, since: str, _bench: Bench) -> Mapping[str, Tally]:
    return _bench.swallowed(since)


def take_on(of: Bench, base_id: str) -> None:
    """Put a base that a plugin brings on the shelf of the bench, so that cups of it can be logged."""
    brought = next(b for b in host(of).bases if b.base_id == base_id)
    taken(of.keep(brought))


def taken(report: LoadReport) -> LoadReport:
    """Pass a report on when every row went in; else raise for the first that was refused."""
    if len(report.refused):
        row = report.refused.iloc[0]
        raise TableError(str(row["reason"]), str(row["remedy"]))
    return report


def table(of: Bench, name: str) -> pd.DataFrame:
    """One table as it stands; shared between pages, so never change it in place."""
    return _table(bench_path(), of.revision, name, of)


@st.cache_resource(show_spinner=False, max_entries=16)
def _table(path: str, revision: int, name: str, _bench: Bench) -> pd.DataFrame:
    return _bench.tables(name)


def targets(of: Bench) -> dict[str, str]:
    """Names of the targets of the bench by id."""
    return _targets(bench_path(), of.revision, of)


@st.cache_resource(show_spinner=False, max_entries=2)
def _targets(path: str, revision: int, _bench: Bench) -> dict[str, str]:
    return _bench.targets()


def host(of: Bench) -> Host:
    """Plugins of the bench; one whose file was edited is loaded anew."""
    _loaded.add(bench_path())
    of.plugged.forget_old()
    return of.host


def plugins_are_loaded() -> bool:
    """Whether this process has loaded the bench's plugins already, or has no bench to load any for."""
    return bench_path() in _loaded or not _is_there()


def views() -> tuple[Any, ...]:
    """Pages that plugins bring; none where there is no bench that can be opened (its pages say why)."""
    if not _is_there():
        return ()
    try:
        return host(_open(bench_path(), *people.who())).views
    except PairingError:
        return ()


def reload_plugins(of: Bench) -> None:
    """Forget the plugins that were found: the next question loads them anew, and learns again if they changed."""
    of.choose_plugins()


def model(of: Bench) -> Learned:
    """Learn from the log, once for each state of log, plugins and settings."""
    return waited_for(learning(of), "Learning from the log …")


def learning(of: Bench, key: str | None = None) -> Future[Learned]:
    """Begin to learn from the log as it stands (in the state of a key), while the page goes on."""
    return begun(("learned", bench_path(), key or state_key(of)), partial(of.learn, random_state=0))


def ready_to_learn() -> None:
    """Load what learning anew takes, which kept state came without; once nobody waits for anything else."""
    begun("what learning needs", partial(import_module, "pairing.learning.evidence"))


LOOK = 5.0
"""How often an open page looks for cups from elsewhere, s."""


def watch(of: Bench) -> None:
    """Draw the page anew when somebody else has logged something."""
    _watched(lambda: of.revision, of.revision)


def watch_cup(of: Bench, draft: Draft) -> None:
    """Draw the page anew when another window has gone on with the cup in hand, or put it into the log."""
    _watched(lambda: (of.load_draft(draft.draft_id) or {}).get("version"), draft.version)


@st.fragment(run_every=LOOK)
def _watched(look: Callable[[], int | None], drawn: int) -> None:
    if look() != drawn:
        st.rerun(scope="app")


def cup_id() -> str | None:
    """Id of the cup in hand; it is in the address, so that a reload comes back to it."""
    return st.query_params.get("cup")


def load(of: Bench, draft_id: str) -> Draft | None:
    """Fetch an unfinished cup."""
    kept: dict[str, Any] | None = of.load_draft(draft_id)
    return Draft.of(kept) if kept else None


def save(of: Bench, draft: Draft) -> Draft:
    """Keep an unfinished cup, at every tap; refused when another window has gone on with it."""
    kept = draft.saved()
    of.save_draft(draft.draft_id, kept.as_dict(), expected_version=draft.version)
    return kept
