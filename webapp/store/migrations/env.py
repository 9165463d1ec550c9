"""What alembic runs to lead a database from one form of its tables to the next, on the connection it is given."""

from alembic import context

from webapp.store import Table

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Table.metadata,
    render_as_batch=True,
)
context.run_migrations()
