"""The first form: commissions, the workshop, models, dossiers, and what was seen in the folder."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "blob",
        sa.Column("digest", sa.String(64), nullable=False, comment="SHA-256 of the content"),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("kept_at", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_blob"),
    )
    op.create_table(
        "blob_part",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("packed", sa.Boolean, nullable=False, comment="whether the data are compressed"),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("digest", "number", name="pk_blob_part"),
        sa.ForeignKeyConstraint(["digest"], ["blob.digest"], name="fk_blob_part_digest", ondelete="CASCADE"),
    )
    op.create_table(
        "commission",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("key", sa.String(100), nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("head", sa.Integer, nullable=False, comment="number of the newest version"),
        sa.PrimaryKeyConstraint("id", name="pk_commission"),
        sa.UniqueConstraint("key", name="uq_commission_key"),
        sa.CheckConstraint("state IN ('open', 'closed', 'absent')", name=op.f("ck_commission_state")),
    )
    op.create_table(
        "commission_version",
        sa.Column("commission_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("based_on", sa.Integer),
        sa.Column("saved_at", sa.String(32), nullable=False),
        sa.Column("saved_by", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False, comment="the file as written"),
        sa.Column("order_number", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("due", sa.Date),
        sa.Column("mistakes", sa.Text, nullable=False),
        sa.Column("model_digest", sa.String(64)),
        sa.Column("model_name", sa.Text),
        sa.PrimaryKeyConstraint("commission_id", "number", name="pk_commission_version"),
        sa.ForeignKeyConstraint(["commission_id"], ["commission.id"], name="fk_commission_version_commission_id"),
        sa.ForeignKeyConstraint(["model_digest"], ["blob.digest"], name="fk_commission_version_model_digest"),
    )
    op.create_index("ix_commission_version_model_digest", "commission_version", ["model_digest"])
    op.create_table(
        "workshop_version",
        sa.Column("number", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("based_on", sa.Integer),
        sa.Column("saved_at", sa.String(32), nullable=False),
        sa.Column("saved_by", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.Column("mistakes", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_workshop_version"),
    )
    _dossiers()
    op.create_table(
        "seen",
        sa.Column("folder", sa.String(500), nullable=False, comment="empty: the folder in which the database stands"),
        sa.Column("path", sa.String(500), nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("changed_ns", sa.BigInteger, nullable=False),
        sa.Column("looked_ns", sa.BigInteger, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("folder", "path", name="pk_seen"),
    )


def _dossiers() -> None:
    op.create_table(
        "dossier",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("commission_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False, comment="the commission's version"),
        sa.Column("workshop", sa.Integer, nullable=False, comment="the workshop's version; 0 where it is not known"),
        sa.Column("made_at", sa.String(32), nullable=False),
        sa.Column("verdict", sa.String(10), nullable=False),
        sa.Column("halts", sa.Integer, nullable=False),
        sa.Column("heeds", sa.Integer, nullable=False),
        sa.Column("worst", sa.Text),
        sa.Column("next_step", sa.Text, nullable=False),
        sa.Column("picture", sa.String(64)),
        sa.PrimaryKeyConstraint("id", name="pk_dossier"),
        sa.UniqueConstraint("commission_id", "number", "workshop", name="uq_dossier_commission_id"),
        sa.ForeignKeyConstraint(
            ["commission_id", "number"],
            ["commission_version.commission_id", "commission_version.number"],
            name="fk_dossier_commission_id",
        ),
        sa.ForeignKeyConstraint(["picture"], ["blob.digest"], name="fk_dossier_picture"),
        sa.CheckConstraint("verdict IN ('fine', 'heed', 'halt')", name=op.f("ck_dossier_verdict")),
    )
    op.create_index("ix_dossier_newest", "dossier", ["commission_id", "number", "made_at"])
    op.create_index("ix_dossier_picture", "dossier", ["picture"])
    op.create_table(
        "dossier_file",
        sa.Column("dossier_id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("dossier_id", "name", name="pk_dossier_file"),
        sa.ForeignKeyConstraint(["dossier_id"], ["dossier.id"], name="fk_dossier_file_dossier_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["digest"], ["blob.digest"], name="fk_dossier_file_digest"),
    )
    op.create_index("ix_dossier_file_digest", "dossier_file", ["digest"])


def downgrade() -> None:
    """There is nothing before the first form."""
    raise NotImplementedError("a database is not brought back to a former form; restore a copy")
