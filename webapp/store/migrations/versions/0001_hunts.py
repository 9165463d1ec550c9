"""Hunts, who takes part, what they have read."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Lead the tables to this form."""
    op.create_table(
        "hunts",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("key", sa.String(32), nullable=False),
        sa.Column("scenario", sa.String(8000), nullable=False),
        sa.Column("fault", sa.String(120), nullable=False),
        sa.Column("secret", sa.LargeBinary(32), nullable=False),
        sa.Column("made", sa.Float, nullable=False),
        sa.Column("ended", sa.Float),
        sa.PrimaryKeyConstraint("id", name="pk_hunts"),
        sa.CheckConstraint("length(scenario) <= 8000", name=op.f("ck_hunts_scenario_length")),
    )
    op.create_index("ix_hunts_made", "hunts", ["made"])
    op.create_table(
        "hunters",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("hunt", sa.String(32), nullable=False),
        sa.Column("token", sa.String(43), nullable=False),
        sa.Column("nickname", sa.String(24), nullable=False),
        sa.Column("folded", sa.String(72), nullable=False),
        sa.Column("joined", sa.Float, nullable=False),
        sa.Column("answer", sa.String(120)),
        sa.Column("right", sa.Boolean),
        sa.Column("answer_readings", sa.Integer),
        sa.Column("found_readings", sa.Integer),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_hunters"),
        sa.ForeignKeyConstraint(["hunt"], ["hunts.id"], name="fk_hunters_hunt", ondelete="CASCADE"),
        sa.UniqueConstraint("hunt", "folded", name="uq_hunters_hunt_folded"),
        sa.UniqueConstraint("token", name="uq_hunters_token"),
        sa.CheckConstraint("length(nickname) <= 24", name=op.f("ck_hunters_nickname_length")),
    )
    op.create_table(
        "taken",
        sa.Column("hunter", sa.Integer, nullable=False),
        sa.Column("state", sa.String(8), nullable=False),
        sa.Column("red", sa.String(40), nullable=False),
        sa.Column("black", sa.String(40), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("hunter", "state", "red", "black", name="pk_taken"),
        sa.ForeignKeyConstraint(["hunter"], ["hunters.id"], name="fk_taken_hunter", ondelete="CASCADE"),
    )
