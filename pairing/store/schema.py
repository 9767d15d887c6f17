"""The SQL tables of a bench, in one dialect for SQLite and PostgreSQL.

A batch is what was written together; it counts once it is *active*: written whole, and not undone. Rows are never
overwritten: of the rows with one key the one of the latest active batch counts.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from pairing.model.columns import TABLES

if TYPE_CHECKING:
    from sqlalchemy import MetaData

__all__ = ["SCHEMA_VERSION", "metadata"]

SCHEMA_VERSION = 3
"""Rises with every change of the tables; `pairing/store/migrations` holds the way from each version to the next."""


@cache
def metadata(is_file: bool) -> MetaData:
    """Return the definitions of all tables, in a file or on a server."""
    from sqlalchemy import Column, Double, ForeignKey, Index, Integer, LargeBinary, MetaData, Text, text
    from sqlalchemy import Table as Sql

    meta = MetaData()
    off: dict[str, Any] = {"sqlite_where" if is_file else "postgresql_where": text("active = 0")}
    Sql("meta", meta, Column("name", Text, primary_key=True), Column("value", Integer, nullable=False))
    Sql("settings", meta, Column("name", Text, primary_key=True), Column("value", Text, nullable=False))
    Sql(
        "revisions", meta,
        Column("batch", Integer, primary_key=True, autoincrement=False),
        Column("revision", Integer),  # its number once it is written whole: none while it is being written
        Column("at", Text, nullable=False), Column("author", Text, nullable=False),
        Column("action", Text, nullable=False), Column("about", Text),
        Column("write_id", Text, index=True), Column("digest", Text), Column("undoes", Integer),
        Column("active", Integer, nullable=False, server_default=text("1")),
        Index("ix_revisions_revision", "revision", unique=True),
        Index("ix_revisions_inactive", "batch", **off),
    )  # fmt: skip
    Sql(
        "drafts", meta,
        Column("draft_id", Text, primary_key=True), Column("version", Integer, nullable=False),
        Column("saved_at", Text, nullable=False), Column("content", Text, nullable=False),
    )  # fmt: skip
    Sql(
        "blobs", meta,
        Column("key", Text, primary_key=True), Column("saved_at", Text, nullable=False),
        Column("content", LargeBinary, nullable=False),
    )  # fmt: skip
    for table in TABLES.values():
        Sql(
            table.name, meta,
            Column("row_id", Integer, primary_key=True), Column("row_key", Text, nullable=False),
            Column("place", Integer, nullable=False, index=True),
            Column("batch", Integer, ForeignKey("revisions.batch"), nullable=False, index=True),
            Column("gone", Integer, nullable=False),
            *(Column(c.name, Double if c.kind in ("number", "integer") else Text) for c in table.columns),
            Index(f"ix_{table.name}_key", "row_key", "batch", unique=True),
            *([Index(f"ix_{table.name}_trial", "trial_id")] if "trial_id" in table.names else []),
        )  # fmt: skip
    return meta
