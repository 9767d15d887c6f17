"""Look over the bench and this installation: what is missing, what is in doubt, and what to do about it."""

from __future__ import annotations

import argparse
import contextlib
import platform
import sqlite3
from collections.abc import Callable, Iterator
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import bench_path, open_bench
from pairing.cli.output import Output
from pairing.errors import StoreError, first_few
from pairing.model.columns import TABLES
from pairing.model.fields import several
from pairing.nutrition.allergens import not_read
from pairing.quantities.drops import drop_mass
from pairing.report.labels import labels
from pairing.store import readonly
from pairing.store.database import FILE_NAME, is_url, shown
from pairing.version import __version__

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.host import Host
    from pairing.model.flavouring import Flavouring

_LIBRARIES = ("numpy", "scipy", "pandas", "scikit-learn", "networkx", "sqlalchemy", "streamlit", "pyarrow", "psycopg")
_FACTS: tuple[tuple[str, str, Callable[[Flavouring], Any]], ...] = (
    (
        "allergens",
        "write none after reading the label, or the allergens",
        lambda f: None if not_read(f.allergens or ()) else f.allergens,
    ),
    ("cost_per_g", "without it no limit on cost can be kept", lambda f: f.cost_per_g),
    ("ethanol_g_per_g", "write 0 when the label says so", lambda f: f.ethanol_g_per_g),
    ("drop_mg", "pairing calibrate ID DROPS=GRAMS", lambda f: f.drop_mg if _dropped(f) else 0.0),
)
"""Facts of a flavouring that a limit or an amount needs, and what to do when they are not known."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare nothing beyond ``--bench``."""


def run(args: argparse.Namespace, out: Output) -> int:
    """Look; 1 when the file is damaged (open points are no fault)."""
    versions = {"pairing": __version__, "python": platform.python_version(), "sqlite": sqlite3.sqlite_version}
    versions |= {name: found for name in _LIBRARIES if (found := _version(name))}
    out.value("versions", versions)
    out.say(", ".join(f"{name} {version}" for name, version in versions.items()))
    broken = damage(bench_path(args))
    out.value("damage", broken)
    if broken:
        raise StoreError(broken[0], "go back to a copy; pairing export FOLDER --salvage writes what can still be read")
    bench = open_bench(args)
    counts = _counts(bench)
    out.table("tables", counts, [("table", "table"), ("rows", "rows")], title=f"Bench {shown(bench_path(args))}")
    points = [*_open_points(bench), *_plugin_points(bench.host)]
    columns = [("about", "about"), ("point", "open point"), ("remedy", "what to do")]
    out.table("open_points", points, columns, title="Open points", empty="none")
    return 0


def _counts(bench: Bench) -> list[dict[str, Any]]:
    return [{"table": name, "rows": n} for name, n in bench.count().items()]


def _open_points(bench: Bench) -> Iterator[dict[str, str]]:
    from pairing.learned.improbable import CHECK, improbable_in

    shelf = bench.shelf()
    for fact, remedy, get in _FACTS:
        unknown = [f.flavouring_id for f in shelf.flavourings.values() if get(f) is None]
        if unknown:
            yield {"about": first_few(unknown), "point": f"{fact} is unknown", "remedy": remedy}
    for label in labels(shelf, list(shelf.bases)[:1], shelf.flavourings):
        if label.direction.doubtful:
            remedy = f"correct {label.direction.as_written!r}: write fl oz or g"
            yield {"about": label.flavouring_id, "point": label.direction.assumptions[0], "remedy": remedy}
    yield from _several_names(bench)
    for base in shelf.bases.values():
        if base.energy_kcal_per_100g is None:
            yield {"about": base.base_id, "point": "energy is unknown", "remedy": "copy it from the label, per 100 g"}
    if not bench.holds("readings", "liking"):
        yield {"about": "log", "point": "no liking was logged yet", "remedy": "pairing log … --liking 7"}
    for note in improbable_in(shelf, bench):
        remedy = f"{CHECK}, and correct it: load it with --on-conflict revise"
        yield {"about": "log", "point": note, "remedy": remedy}
    poured = set(bench.used("readings", "base_id"))
    for base_id in shelf.bases:
        if base_id not in poured:
            remedy = f"start with pairing suggest --bases {base_id} --max-flavourings 1"
            yield {"about": base_id, "point": "no cup of it was logged yet", "remedy": remedy}


def _several_names(bench: Bench) -> Iterator[dict[str, str]]:
    """Name the kept cells whose names may be several; rows that share one are one point."""
    for spec in TABLES.values():
        columns = [c.name for c in spec.columns if c.kind == "amounts" and bench.holds(spec.name, c.name)]
        if not columns:
            continue
        table = bench.tables(spec.name)
        for column in columns:
            found: dict[str, list[str]] = {}
            filled = table[table[column].notna()]
            for row_id, cell in zip(filled[spec.key[0]], filled[column], strict=True):
                for name in several(cell):
                    found.setdefault(name, []).append(str(row_id))
            for name, rows in found.items():
                yield {
                    "about": first_few(dict.fromkeys(rows)),
                    "point": f"{column} {name!r} counts as one name and may be several",
                    "remedy": "put ; between names and load the row with --on-conflict revise",
                }


def _plugin_points(host: Host) -> Iterator[dict[str, str]]:
    for fault in host.faults:
        yield {"about": f"plugin {fault.plugin}", "point": fault.error, "remedy": fault.remedy}


def damage(place: str) -> list[str]:
    """Ask SQLite whether a bench's file is whole; a server looks after its own.

    Parameters
    ----------
    place : str
        Folder or URL of a bench.
    """
    file = Path(place) / FILE_NAME
    if is_url(place) or not file.is_file():
        return []
    try:
        with contextlib.closing(readonly.open_read_only(file)) as connection:
            found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check")]
            orphans = connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError as error:
        return [f"{file}: {error}"]
    broken = [] if found == ["ok"] else [f"{file}: {text}" for text in found]
    return [*broken, *(f"{file}: a row of {row[0]} refers to one of {row[2]} that is missing" for row in orphans)]


def _dropped(flavouring: Flavouring) -> bool:
    return drop_mass(flavouring).comes_in_drops


def _version(name: str) -> str | None:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None
