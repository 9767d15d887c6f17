"""A private PostgreSQL server for the tests of one process: made, started, emptied and removed by them.

It needs Debian's package ``postgresql`` (or any other whose ``initdb`` is found). ``initdb`` refuses to run as root, so
that root's server belongs to a system user without rights.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

__all__ = ["USER", "Server", "binaries"]

USER = "pairing"
_SYSTEM_USERS = ("postgres", "nobody")
_FAST = ("fsync=off", "full_page_writes=off", "synchronous_commit=off", "shared_buffers=16MB", "max_connections=40")
"""Nothing of a test needs to survive the machine."""


def binaries() -> Path | None:
    """Folder of the server's programs, the newest version first; None where there are none."""
    on_path = shutil.which("initdb")
    if on_path and (found := Path(on_path).resolve().parent) and (found / "pg_ctl").exists():
        return found
    versions = [p.parent for p in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    return max(versions, key=lambda p: float(p.parent.name), default=None)


class Server:
    """A running server, reached through a socket in its own folder, with one database."""

    def __init__(self, programs: Path) -> None:
        self._programs = programs
        self.folder = Path(tempfile.mkdtemp(prefix="pairing-pg-"))  # a socket's path must be short
        self._as: dict[str, Any] = {}
        if os.geteuid() == 0:
            owner = next(u for u in map(_user, _SYSTEM_USERS) if u is not None)
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
            self._as = {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
        try:
            self._run("initdb", "-A", "trust", "-U", USER, "-E", "UTF8", "--locale=C.UTF-8", "--no-sync", "data")
            self._keeper = self._start()
            self._wait()
        except BaseException:
            shutil.rmtree(self.folder, ignore_errors=True)
            raise

    def _start(self) -> subprocess.Popen[bytes]:
        """Start the server under a shell that stops it when its input closes: however this process ends."""
        settings = " ".join(f"-c {s}" for s in _FAST)
        server = f"{self._programs / 'postgres'} -D data -h '' -k {self.folder} {settings} >log 2>&1 </dev/null"
        script = f"{server} & server=$!; read _; kill -QUIT $server; wait $server; cd /; rm -rf {self.folder}"
        words = ["sh", "-c", script]  # in a session of its own: no signal to the tests' group reaches it
        return subprocess.Popen(words, cwd=self.folder, stdin=subprocess.PIPE, start_new_session=True, **self._as)

    def _wait(self) -> None:
        """Wait until the server answers."""
        words = [str(self._programs / "pg_isready"), "-q", "-h", str(self.folder), "-t", "1"]
        for _ in range(600):
            if subprocess.run(words, check=False, **self._as).returncode == 0:
                return
            time.sleep(0.1)
        raise RuntimeError(f"the server does not start: {(self.folder / 'log').read_text(errors='replace')}")

    def url(self, schema: str = "public", database: str = "postgres") -> str:
        """URL of a bench in a schema of the database."""
        options = "" if schema == "public" else f"&options=-csearch_path%3D{schema}"
        return f"postgresql+psycopg://{USER}@/{database}?host={self.folder}{options}"

    def execute(self, *statements: str) -> None:
        """Run statements, each by itself."""
        import psycopg

        with psycopg.connect(host=str(self.folder), user=USER, dbname="postgres", autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)

    def empty(self) -> None:
        """Drop every schema that a test has made."""
        import psycopg

        query = "SELECT nspname FROM pg_namespace WHERE nspname !~ '^(pg_|information_schema)'"
        with psycopg.connect(host=str(self.folder), user=USER, dbname="postgres", autocommit=True) as connection:
            for (name,) in connection.execute(query).fetchall():
                connection.execute(f'DROP SCHEMA "{name}" CASCADE')
            connection.execute("CREATE SCHEMA public")

    def copy(self, source: str, target: str) -> str:
        """Copy a database, and return the URL of a bench in the copy."""
        self.execute(f'DROP DATABASE IF EXISTS "{target}"', f'CREATE DATABASE "{target}" TEMPLATE "{source}"')
        return self.url(database=target)

    def restore(self, dump: Path) -> None:
        """Run a dump of SQL, as ``pg_dump`` writes it."""
        self._run("psql", "-q", "-v", "ON_ERROR_STOP=1", "-h", str(self.folder), "-U", USER, "postgres", stdin=dump)

    def dump(self) -> str:
        """Return the database as SQL."""
        words = ("--no-owner", "-h", str(self.folder), "-U", USER, "postgres")
        return self._run("pg_dump", *words)

    def stop(self) -> None:
        """Stop the server and remove what it kept."""
        self._keeper.communicate(b"\n", timeout=60)
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program: str, *words: str, stdin: Path | None = None) -> str:
        """Run one of the server's programs and return what it prints."""
        with (self.folder / "said").open("ab") as said, (stdin or Path(os.devnull)).open("rb") as given:
            done = subprocess.run(
                [str(self._programs / program), *words], cwd=self.folder, check=False, stdin=given, stderr=said,
                stdout=subprocess.PIPE if program == "pg_dump" else said, **self._as,
            )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{program} failed: {(self.folder / 'said').read_text(errors='replace')}")
        return done.stdout.decode() if done.stdout else ""


def _user(name: str) -> pwd.struct_passwd | None:
    try:
        return pwd.getpwnam(name)
    except KeyError:
        return None
