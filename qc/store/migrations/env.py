"""How Alembic runs the migrations: on the connection handed in, inside its transaction."""

from alembic import context

from qc.store.schema import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=True,  # SQLite alters a table by making it anew
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
