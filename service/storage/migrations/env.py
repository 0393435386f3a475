"""Run by Alembic: applies the migrations in the transaction that it is given."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
