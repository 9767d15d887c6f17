"""Rows belong to batches that count or do not; what an undo wrote follows from that; lots, recipes and photos come in.

In version 1 an undo wrote the rows again as they were before. Here it makes the batch inactive and writes nothing: the
rows of undos go, and everything counts as it did, which is checked.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"

TABLES = ("bases", "flavourings", "readings", "steps", "tasters", "targets", "comparisons", "calibrations")
ADDED: dict[str, dict[str, type[sa.types.TypeEngine[Any]]]] = {
    "flavourings": {"role": sa.Text, "wheel": sa.Text},
    "readings": {"lot": sa.Text, "glass": sa.Text},
    "tasters": {"age_years": sa.Double, "asks_professional": sa.Text},
}
NEW = {
    "lots": (
        *(("item_id", sa.Text), ("lot", sa.Text), ("size", sa.Text), ("tare_g", sa.Double), ("price", sa.Double)),
        *(("bought_at", sa.Text), ("opened_at", sa.Text), ("best_before", sa.Text), ("emptied_at", sa.Text)),
        ("note", sa.Text),
    ),
    "weighings": (("item_id", sa.Text), ("lot", sa.Text), ("at", sa.Text), ("gross_g", sa.Double)),
    "recipes": (
        *(("recipe_id", sa.Text), ("version", sa.Double), ("base_id", sa.Text), ("doses", sa.Text), ("name", sa.Text)),
        *(("status", sa.Text), ("parent", sa.Text), ("note", sa.Text), ("at", sa.Text)),
    ),
    "photos": (("photo_id", sa.Text), ("item_id", sa.Text), ("at", sa.Text), ("bytes", sa.Text)),
}


def upgrade() -> None:
    """Go from version 1 to version 2."""
    before = {table: _number(_COUNTED_IN_1.format(table=table)) for table in TABLES}
    op.execute("ALTER TABLE revisions RENAME COLUMN revision TO batch")
    op.add_column("revisions", sa.Column("revision", sa.Integer))
    op.add_column("revisions", sa.Column("active", sa.Integer, nullable=False, server_default=sa.text("1")))
    op.execute("UPDATE revisions SET revision = batch")
    op.create_index("ix_revisions_revision", "revisions", ["revision"], unique=True)
    off = sa.text("active = 0")
    op.create_index("ix_revisions_inactive", "revisions", ["batch"], sqlite_where=off, postgresql_where=off)
    _set_active()
    for table in TABLES:
        op.drop_index(f"ix_{table}_revision", table)
        op.execute(f"ALTER TABLE {table} RENAME COLUMN revision TO batch")
        op.execute(f"DELETE FROM {table} WHERE batch IN (SELECT batch FROM revisions WHERE undoes IS NOT NULL)")
        op.create_index(f"ix_{table}_batch", table, ["batch"])
        for name, kind in ADDED.get(table, {}).items():
            op.add_column(table, sa.Column(name, kind))
    for table, columns in NEW.items():
        op.create_table(
            table,
            sa.Column("row_id", sa.Integer, primary_key=True),
            sa.Column("row_key", sa.Text, nullable=False),
            sa.Column("place", sa.Integer, nullable=False, index=True),
            sa.Column("batch", sa.Integer, sa.ForeignKey("revisions.batch"), nullable=False, index=True),
            sa.Column("gone", sa.Integer, nullable=False),
            *(sa.Column(name, kind) for name, kind in columns),
            sa.Index(f"ix_{table}_key", "row_key", "batch", unique=True),
        )
    op.execute("DELETE FROM meta WHERE name = 'revision'")
    op.execute("UPDATE meta SET value = 2 WHERE name = 'schema_version'")
    after = {table: _number(_COUNTED_IN_2.format(table=table)) for table in TABLES}
    if before != after:
        raise RuntimeError(f"rows that counted {before} would be {after}: nothing was changed")


_COUNTED_IN_1 = """
SELECT count(*) FROM {table} WHERE gone = 0 AND NOT EXISTS (
  SELECT 1 FROM {table} newer WHERE newer.row_key = {table}.row_key AND newer.revision > {table}.revision)
"""
_COUNTED_IN_2 = """
SELECT count(*) FROM {table} WHERE gone = 0 AND batch NOT IN (SELECT batch FROM revisions WHERE active = 0)
AND NOT EXISTS (
  SELECT 1 FROM {table} newer WHERE newer.row_key = {table}.row_key AND newer.batch > {table}.batch
  AND newer.batch NOT IN (SELECT batch FROM revisions WHERE active = 0))
"""


def _number(query: str) -> int:
    return int(op.get_bind().execute(sa.text(query)).scalar_one())


def _set_active() -> None:
    """Work out from the chain of undos what is undone, the last one first."""
    connection = op.get_bind()
    undone: set[int] = set()
    query = "SELECT batch, undoes FROM revisions WHERE undoes IS NOT NULL ORDER BY batch DESC"
    for batch, undoes in connection.execute(sa.text(query)).all():
        if batch not in undone:
            undone.add(undoes)
    if undone:
        rows = [{"batch": batch} for batch in sorted(undone)]
        connection.execute(sa.text("UPDATE revisions SET active = 0 WHERE batch = :batch"), rows)
