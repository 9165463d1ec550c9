"""Logbooks and their entries."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Lead the tables to this form."""
    op.create_table(
        "logbooks",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("key", sa.String(32), nullable=False),
        sa.Column("scenario", sa.String(8000), nullable=False),
        sa.Column("title", sa.String(80), nullable=False),
        sa.Column("made", sa.Float, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_logbooks"),
        sa.CheckConstraint("length(scenario) <= 8000", name=op.f("ck_logbooks_scenario_length")),
        sa.CheckConstraint("length(title) <= 80", name=op.f("ck_logbooks_title_length")),
    )
    op.create_index("ix_logbooks_made", "logbooks", ["made"])
    op.create_table(
        "log_entries",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("logbook", sa.String(32), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("readings", sa.String(4000), nullable=False),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("nickname", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_log_entries"),
        sa.ForeignKeyConstraint(["logbook"], ["logbooks.id"], name="fk_log_entries_logbook", ondelete="CASCADE"),
        sa.CheckConstraint("length(readings) <= 4000", name=op.f("ck_log_entries_readings_length")),
        sa.CheckConstraint("length(note) <= 500", name=op.f("ck_log_entries_note_length")),
        sa.CheckConstraint("length(nickname) <= 24", name=op.f("ck_log_entries_nickname_length")),
    )
    op.create_index("ix_log_entries_logbook", "log_entries", ["logbook"])
