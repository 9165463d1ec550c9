"""Documents and their revisions."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Lead the tables to this form."""
    op.create_table(
        "documents",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("key", sa.LargeBinary(32), nullable=False),
        sa.Column("made", sa.Float, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_documents"),
    )
    op.create_index("ix_documents_made", "documents", ["made"])
    op.create_table(
        "document_revisions",
        sa.Column("document", sa.String(32), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("at", sa.Float, nullable=False),
        sa.Column("title", sa.String(120), nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("document", "number", name="pk_document_revisions"),
        sa.ForeignKeyConstraint(
            ["document"], ["documents.id"], name="fk_document_revisions_document", ondelete="CASCADE"
        ),
        sa.CheckConstraint("length(title) <= 120", name=op.f("ck_document_revisions_title_length")),
        sa.CheckConstraint("length(content) <= 65536", name=op.f("ck_document_revisions_content_length")),
    )
