"""The schema of the first version, as its program made it: nothing leads here."""

revision = "1"
down_revision = None
