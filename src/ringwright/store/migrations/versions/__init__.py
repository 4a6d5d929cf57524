"""One module a step; ``python -m alembic`` is not needed to run them: opening a store does."""
