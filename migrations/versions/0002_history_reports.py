"""Histories carry a report of what is wrong with them.

Revision ID: 0002_history_reports
Revises: 0001_first_tables

Rules for a migration: it must run on SQLite (batch mode) and on PostgreSQL, keep every row both ways, name every
constraint, and import nothing but alembic and sqlalchemy, so that it still runs when the models have moved on.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002_history_reports"
down_revision = "0001_first_tables"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Move the database up to this revision."""
    with op.batch_alter_table("histories", schema=None) as batch_op:
        batch_op.add_column(sa.Column("report", sa.JSON(none_as_null=True), nullable=True))


def downgrade() -> None:
    """Move the database down from this revision; reports are lost, and can be made again from the stored files."""
    with op.batch_alter_table("histories", schema=None) as batch_op:
        batch_op.drop_column("report")
