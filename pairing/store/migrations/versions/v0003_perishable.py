"""A lot says when it was made, and by when it has to be used."""

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"


def upgrade() -> None:
    """Go from version 2 to version 3."""
    for name in ("made_at", "use_by"):
        op.add_column("lots", sa.Column(name, sa.Text))
    op.execute("UPDATE meta SET value = 3 WHERE name = 'schema_version'")
