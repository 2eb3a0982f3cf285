"""Sweeps and their rows.

Revision ID: 0003_sweeps
Revises: 0002_history_reports

Rules for a migration: it must run on SQLite (batch mode) and on PostgreSQL, keep every row both ways, name every
constraint, and import nothing but alembic and sqlalchemy, so that it still runs when the models have moved on.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003_sweeps"
down_revision = "0002_history_reports"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Move the database up to this revision."""
    op.create_table(
        "sweeps",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("document", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("axes", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("candidates", sa.Integer(), nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sweeps")),
    )
    with op.batch_alter_table("sweeps", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sweeps_created_at_id"), ["created_at", "id"], unique=False)
    op.create_table(
        "sweep_rows",
        sa.Column("sweep_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("candidate", sa.Integer(), nullable=False),
        sa.Column("strategy", sa.Text(), nullable=False),
        sa.Column("net_present", sa.Double(), nullable=True),
        sa.Column("battery_life_years", sa.Double(), nullable=True),
        sa.Column("figures", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["sweep_id"], ["sweeps.id"], name=op.f("fk_sweep_rows_sweep_id_sweeps"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("sweep_id", "place", name=op.f("pk_sweep_rows")),
    )


def downgrade() -> None:
    """Move the database down from this revision; sweeps remain in their Parquet files."""
    op.drop_table("sweep_rows")
    with op.batch_alter_table("sweeps", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sweeps_created_at_id"))
    op.drop_table("sweeps")
