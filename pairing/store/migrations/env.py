"""Run by Alembic: hands it the connection of the upgrade, whose transaction all steps share."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
