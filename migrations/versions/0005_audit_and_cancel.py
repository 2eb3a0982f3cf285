"""Who changed what, which histories a study names, files still to be removed, and jobs that can be cancelled.

Revision ID: 0005_audit_and_cancel
Revises: 0004_one_document

Rules for a migration: it must run on SQLite (batch mode) and on PostgreSQL, keep every row both ways, name every
constraint, and import nothing but alembic and sqlalchemy, so that it still runs when the models have moved on.
"""

import json
import re

import sqlalchemy as sa
from alembic import op

revision = "0005_audit_and_cancel"
down_revision = "0004_one_document"
branch_labels = None
depends_on = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_HASH = re.compile(r'"([0-9a-f]{64})"')
_AT_ONCE = 500


def upgrade() -> None:
    """Move the database up to this revision."""
    op.create_table(
        "audit",
        sa.Column("id", _ID, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("token_id", sa.String(length=16), nullable=True),
        sa.Column("action", sa.String(length=20), nullable=False),
        sa.Column("subject", sa.String(length=20), nullable=False),
        sa.Column("subject_id", sa.String(length=64), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    op.create_index("ix_audit_created_at_id", "audit", ["created_at", "id"])
    op.create_table(
        "unremoved_files",
        sa.Column("store_key", sa.Text(), nullable=False),
        sa.Column("history_id", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("store_key", name=op.f("pk_unremoved_files")),
    )
    op.create_table(
        "study_histories",
        sa.Column("study_id", sa.String(length=32), nullable=False),
        sa.Column("history_id", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["study_id"], ["studies.id"], name=op.f("fk_study_histories_study_id_studies"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("study_id", "history_id", name=op.f("pk_study_histories")),
    )
    op.create_index("ix_study_histories_history_id_study_id", "study_histories", ["history_id", "study_id"])
    _link_studies()
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.add_column(sa.Column("submitted_attempt", sa.Integer(), nullable=False, server_default="0"))
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.alter_column("submitted_attempt", server_default=None)


def downgrade() -> None:
    """Move the database back; what was cancelled can be submitted again there."""
    jobs = sa.table("jobs", *(sa.column(name) for name in ("state", "retryable", "message")))
    op.execute(
        jobs.update()
        .where(jobs.c.state == "cancelled")
        .values(state="failed", retryable=sa.true(), message="Cancelled. Submit the study again to run it.")
    )
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.drop_column("submitted_attempt")
    op.drop_index("ix_study_histories_history_id_study_id", table_name="study_histories")
    op.drop_table("study_histories")
    op.drop_table("unremoved_files")
    op.drop_index("ix_audit_created_at_id", table_name="audit")
    op.drop_table("audit")


def _link_studies() -> None:
    """Say which stored histories the studies of the record name."""
    connection = op.get_bind()
    studies = sa.table("studies", sa.column("id", sa.String()), sa.column("document", sa.JSON()))
    links = sa.table("study_histories", sa.column("study_id"), sa.column("history_id"))
    known = set(connection.execute(sa.text("SELECT id FROM histories")).scalars())
    last = ""
    while rows := connection.execute(
        sa.select(studies).where(studies.c.id > last).order_by(studies.c.id).limit(_AT_ONCE)
    ).all():
        named = [
            {"study_id": key, "history_id": one}
            for key, document in rows
            for one in sorted(set(_HASH.findall(json.dumps(document))) & known)
        ]
        if named:
            connection.execute(links.insert(), named)
        last = rows[-1][0]
