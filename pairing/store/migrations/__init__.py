"""The way from each version of the schema to the next, in Alembic's layout; `pairing.store.upgrade` runs it."""
