"""Classes, and how many follow them."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Lead the tables to this form."""
    op.create_table(
        "classes",
        sa.Column("code", sa.String(12), nullable=False),
        sa.Column("key", sa.LargeBinary(32), nullable=False),
        sa.Column("scenario", sa.String(8000), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("made", sa.Float, nullable=False),
        sa.Column("moved", sa.Float, nullable=False),
        sa.Column("ended", sa.Float),
        sa.PrimaryKeyConstraint("code", name="pk_classes"),
        sa.CheckConstraint("length(scenario) <= 8000", name=op.f("ck_classes_scenario_length")),
    )
    op.create_index("ix_classes_moved", "classes", ["moved"])
    op.create_table(
        "attendances",
        sa.Column("code", sa.String(12), nullable=False),
        sa.Column("process", sa.String(16), nullable=False),
        sa.Column("followers", sa.Integer, nullable=False),
        sa.Column("at", sa.Float, nullable=False),
        sa.PrimaryKeyConstraint("code", "process", name="pk_attendances"),
        sa.ForeignKeyConstraint(["code"], ["classes.code"], name="fk_attendances_code", ondelete="CASCADE"),
    )
