"""First tables.

Revision ID: 0001_first_tables
Revises: nothing

Rules for a migration: it must run on SQLite (batch mode) and on PostgreSQL, keep every row both ways, name every
constraint, and import nothing but alembic and sqlalchemy, so that it still runs when the models have moved on.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001_first_tables"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Move the database up to this revision."""
    op.create_table(
        "histories",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("file_name", sa.Text(), nullable=False),
        sa.Column("format", sa.Text(), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("rows", sa.BigInteger(), nullable=False),
        sa.Column("columns", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("store_key", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_histories")),
    )
    with op.batch_alter_table("histories", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_histories_created_at_id"), ["created_at", "id"], unique=False)

    op.create_table(
        "parameter_sets",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_parameter_sets")),
    )
    with op.batch_alter_table("parameter_sets", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_parameter_sets_kind_name"), ["kind", "name"], unique=False)

    op.create_table(
        "studies",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("document", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_studies")),
    )
    with op.batch_alter_table("studies", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_studies_created_at_id"), ["created_at", "id"], unique=False)

    op.create_table(
        "tokens",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tokens")),
    )
    op.create_table(
        "assessments",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("study_id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("service_years", sa.Double(), nullable=False),
        sa.Column("strategies", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("document", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("detail", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(["study_id"], ["studies.id"], name=op.f("fk_assessments_study_id_studies")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assessments")),
    )
    with op.batch_alter_table("assessments", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_assessments_created_at_id"), ["created_at", "id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_assessments_study_id_created_at"), ["study_id", "created_at"], unique=False
        )

    op.create_table(
        "assessment_sources",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("assessment_id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("strategy", sa.Text(), nullable=False),
        sa.Column("strategy_folded", sa.Text(), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("cell", sa.Text(), nullable=False),
        sa.Column("cell_sha256", sa.String(length=64), nullable=False),
        sa.Column("grade", sa.Text(), nullable=False),
        sa.Column("life_years", sa.Double(), nullable=True),
        sa.Column("life_state", sa.String(length=20), nullable=False),
        sa.Column("life_key", sa.Double(), nullable=False),
        sa.Column("end_of_life_by", sa.String(length=20), nullable=True),
        sa.Column("capacity_fraction_at_service_end", sa.Double(), nullable=True),
        sa.Column("resistance_ratio_at_service_end", sa.Double(), nullable=True),
        sa.Column("calendar_share", sa.Double(), nullable=True),
        sa.Column("cycle_share", sa.Double(), nullable=True),
        sa.Column("equivalent_full_cycles_per_year", sa.Double(), nullable=False),
        sa.Column("throughput_Ah_per_year", sa.Double(), nullable=False),
        sa.Column("rms_current_A", sa.Double(), nullable=False),
        sa.Column("peak_current_A", sa.Double(), nullable=False),
        sa.Column("heat_kWh_per_year", sa.Double(), nullable=False),
        sa.Column("replacements", sa.Integer(), nullable=True),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("service_years", sa.Double(), nullable=False),
        sa.Column("net_present", sa.Double(), nullable=True),
        sa.Column("cost_key", sa.Double(), nullable=False),
        sa.Column("per_year", sa.Double(), nullable=True),
        sa.Column("per_km", sa.Double(), nullable=True),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["assessments.id"],
            name=op.f("fk_assessment_sources_assessment_id_assessments"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assessment_sources")),
        sa.UniqueConstraint(
            "assessment_id", "strategy", "kind", name=op.f("uq_assessment_sources_assessment_id_strategy_kind")
        ),
    )
    with op.batch_alter_table("assessment_sources", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_cell_cost_key_id"), ["cell", "cost_key", "id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_cell_created_at_id"), ["cell", "created_at", "id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_assessment_sources_cell_id"), ["cell", "id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_cell_life_key_id"), ["cell", "life_key", "id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_assessment_sources_cost_key_id"), ["cost_key", "id"], unique=False)
        batch_op.create_index(batch_op.f("ix_assessment_sources_created_at_id"), ["created_at", "id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_end_of_life_by_life_key_id"),
            ["end_of_life_by", "life_key", "id"],
            unique=False,
        )
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_kind_cost_key_id"), ["kind", "cost_key", "id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_kind_created_at_id"), ["kind", "created_at", "id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_kind_life_key_id"), ["kind", "life_key", "id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_assessment_sources_life_key_id"), ["life_key", "id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_assessment_sources_strategy_folded_id"), ["strategy_folded", "id"], unique=False
        )

    op.create_table(
        "jobs",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("study_id", sa.String(length=32), nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("progress", sa.Double(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("faults", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("retryable", sa.Boolean(), nullable=False),
        sa.Column("assessment_id", sa.String(length=32), nullable=True),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("heartbeat_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("finished_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["assessment_id"], ["assessments.id"], name=op.f("fk_jobs_assessment_id_assessments")),
        sa.ForeignKeyConstraint(["study_id"], ["studies.id"], name=op.f("fk_jobs_study_id_studies")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
        sa.UniqueConstraint("study_id", "program_version", name=op.f("uq_jobs_study_id_program_version")),
    )
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_jobs_created_at_id"), ["created_at", "id"], unique=False)
        batch_op.create_index(batch_op.f("ix_jobs_state_heartbeat_at"), ["state", "heartbeat_at"], unique=False)


def downgrade() -> None:
    """Move the database back, keeping its rows."""
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_jobs_state_heartbeat_at"))
        batch_op.drop_index(batch_op.f("ix_jobs_created_at_id"))

    op.drop_table("jobs")
    with op.batch_alter_table("assessment_sources", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_assessment_sources_strategy_folded_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_life_key_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_kind_life_key_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_kind_created_at_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_kind_cost_key_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_end_of_life_by_life_key_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_created_at_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_cost_key_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_cell_life_key_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_cell_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_cell_created_at_id"))
        batch_op.drop_index(batch_op.f("ix_assessment_sources_cell_cost_key_id"))

    op.drop_table("assessment_sources")
    with op.batch_alter_table("assessments", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_assessments_study_id_created_at"))
        batch_op.drop_index(batch_op.f("ix_assessments_created_at_id"))

    op.drop_table("assessments")
    op.drop_table("tokens")
    with op.batch_alter_table("studies", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_studies_created_at_id"))

    op.drop_table("studies")
    with op.batch_alter_table("parameter_sets", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_parameter_sets_kind_name"))

    op.drop_table("parameter_sets")
    with op.batch_alter_table("histories", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_histories_created_at_id"))

    op.drop_table("histories")
