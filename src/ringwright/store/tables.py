"""The tables. Their form in a database is made by the migrations; a test holds both to each other."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import sqlalchemy as sa


class Moment(sa.types.TypeDecorator[dt.datetime]):
    """A moment as text in UTC, to the microsecond: the same on every database, and in the order of time.

    The library hands every type the dialect, which these two need not know.
    """

    impl = sa.String(32)
    cache_ok = True

    # SQLAlchemy hands the dialect to both ways; the text is the same in each database, so neither asks for it.
    def process_bind_param(self, value: dt.datetime | None, dialect: sa.Dialect) -> str | None:  # noqa: ARG002
        """Refuse a moment without a zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no zone")
        return value.astimezone(dt.UTC).isoformat(timespec="microseconds")

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> dt.datetime | None:  # noqa: ARG002
        """Read back, in UTC."""
        return None if value is None else dt.datetime.fromisoformat(value)


class Plain(sa.types.TypeDecorator[Any]):
    """Plain data as JSON text."""

    impl = sa.Text
    cache_ok = True

    # SQLAlchemy hands the dialect to both ways; the text is the same in each database, so neither asks for it.
    def process_bind_param(self, value: Any, dialect: sa.Dialect) -> str | None:  # noqa: ARG002
        """As JSON."""
        return None if value is None else json.dumps(value, ensure_ascii=False, allow_nan=False)

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> Any:  # noqa: ARG002
        """Lists stay lists."""
        return None if value is None else json.loads(value)


metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

blob = sa.Table(
    "blob",
    metadata,
    sa.Column("digest", sa.String(64), primary_key=True, comment="SHA-256 of the content"),
    sa.Column("size", sa.BigInteger, nullable=False),
    sa.Column("kept_at", Moment, nullable=False),
)

blob_part = sa.Table(
    "blob_part",
    metadata,
    sa.Column("digest", sa.ForeignKey("blob.digest", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("packed", sa.Boolean, nullable=False, comment="whether the data are compressed"),
    sa.Column("data", sa.LargeBinary, nullable=False),
)

commission = sa.Table(
    "commission",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("key", sa.String(100), nullable=False, unique=True),
    sa.Column("state", sa.String(10), nullable=False),
    sa.Column("head", sa.Integer, nullable=False, comment="number of the newest version"),
    sa.CheckConstraint("state IN ('open', 'closed', 'absent')", name="state"),
)

commission_version = sa.Table(
    "commission_version",
    metadata,
    sa.Column("commission_id", sa.ForeignKey("commission.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("based_on", sa.Integer),
    sa.Column("saved_at", Moment, nullable=False),
    sa.Column("saved_by", sa.Text, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False, comment="the file as written"),
    sa.Column("order_number", sa.Text, nullable=False),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("due", sa.Date),
    sa.Column("mistakes", Plain, nullable=False),
    sa.Column("model_digest", sa.ForeignKey("blob.digest")),
    sa.Column("model_name", sa.Text),
    sa.Column("log_digest", sa.ForeignKey("blob.digest")),
    sa.Column("log_name", sa.Text),
    sa.Index("ix_commission_version_model_digest", "model_digest"),
    sa.Index("ix_commission_version_log_digest", "log_digest"),
)

workshop_version = sa.Table(
    "workshop_version",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("based_on", sa.Integer),
    sa.Column("saved_at", Moment, nullable=False),
    sa.Column("saved_by", sa.Text, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Column("mistakes", Plain, nullable=False),
)

dossier = sa.Table(
    "dossier",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("commission_id", sa.Integer, nullable=False),
    sa.Column("number", sa.Integer, nullable=False, comment="the commission's version"),
    sa.Column("workshop", sa.Integer, nullable=False, comment="the workshop's version; 0 where it is not known"),
    sa.Column("made_at", Moment, nullable=False),
    sa.Column("verdict", sa.String(10), nullable=False),
    sa.Column("halts", sa.Integer, nullable=False),
    sa.Column("heeds", sa.Integer, nullable=False),
    sa.Column("worst", Plain),
    sa.Column("next_step", sa.Text, nullable=False),
    sa.Column("picture", sa.ForeignKey("blob.digest")),
    sa.ForeignKeyConstraint(
        ["commission_id", "number"], ["commission_version.commission_id", "commission_version.number"]
    ),
    sa.CheckConstraint("verdict IN ('fine', 'heed', 'halt')", name="verdict"),
    sa.UniqueConstraint("commission_id", "number", "workshop"),
    sa.Index("ix_dossier_newest", "commission_id", "number", "made_at"),
    sa.Index("ix_dossier_picture", "picture"),
)

dossier_file = sa.Table(
    "dossier_file",
    metadata,
    sa.Column("dossier_id", sa.ForeignKey("dossier.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("name", sa.String(200), primary_key=True),
    sa.Column("digest", sa.ForeignKey("blob.digest"), nullable=False),
    sa.Index("ix_dossier_file_digest", "digest"),
)

seen = sa.Table(
    "seen",
    metadata,
    sa.Column("folder", sa.String(500), primary_key=True, comment="empty: the folder in which the database stands"),
    sa.Column("path", sa.String(500), primary_key=True),
    sa.Column("size", sa.BigInteger, nullable=False),
    sa.Column("changed_ns", sa.BigInteger, nullable=False),
    sa.Column("looked_ns", sa.BigInteger, nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
)
