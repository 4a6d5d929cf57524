"""The thermocouple log that a commission's text names is kept with its version, as its model is."""

import tomllib

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the log's hash and name. No version before had one kept: what stands in the folder is taken up next."""
    # A column with its reference in one statement: SQLite knows no other way, and PostgreSQL knows this one too.
    op.execute(
        "ALTER TABLE commission_version ADD COLUMN log_digest VARCHAR(64) "
        "CONSTRAINT fk_commission_version_log_digest REFERENCES blob (digest)"
    )
    op.add_column("commission_version", sa.Column("log_name", sa.Text))
    op.create_index("ix_commission_version_log_digest", "commission_version", ["log_digest"])
    db = op.get_bind()
    named = sa.text("UPDATE commission_version SET log_name = :name WHERE commission_id = :ident AND number = :number")
    every = db.exec_driver_sql("SELECT commission_id, number, content FROM commission_version").all()
    for ident, number, content in every:
        name = _log_name(bytes(content))
        if name is not None:
            db.execute(named, {"name": name, "ident": ident, "number": number})


def _log_name(content: bytes) -> str | None:
    """The log that a text names; None where it names none or cannot be read."""
    try:
        told = tomllib.loads(content.decode("utf-8-sig")).get("thermocouple")
    except ValueError:
        return None
    name = told.get("file") if isinstance(told, dict) else None
    return name if isinstance(name, str) and name else None
