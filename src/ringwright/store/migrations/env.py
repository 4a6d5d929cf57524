"""What Alembic runs: the steps, on the connection and within the transaction that the store gives it."""

from alembic import context

from ringwright.store.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=connection.dialect.name == "sqlite",
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
