"""One result document an assessment, and the names of results as the trade calls them.

Revision ID: 0004_one_document
Revises: 0003_sweeps

The two documents of older assessments are laid into one column as they are, {"document": ..., "detail": ...}; the
program reads them as it reads its own.

Rules for a migration: it must run on SQLite (batch mode) and on PostgreSQL, keep every row both ways, name every
constraint, and import nothing but alembic and sqlalchemy, so that it still runs when the models have moved on.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004_one_document"
down_revision = "0003_sweeps"
branch_labels = None
depends_on = None

_COLUMNS = {
    "end_of_life_by": "end_of_life_criterion",
    "calendar_share": "calendar_share_fraction",
    "cycle_share": "cyclic_share_fraction",
    "heat_kWh_per_year": "energy_losses_kWh_per_year",
    "net_present": "net_present_cost",
    "per_year": "equivalent_annual_cost",
    "per_km": "cost_per_km",
}
_VALUES = {
    "life_state": {"beyond_horizon": "beyond_search_limit", "cannot_deliver": "requirement_not_met"},
    "end_of_life_criterion": {"duty": "requirement"},
    "grade": {"read": "primary source", "reproduced": "secondary source", "from memory": "unverified"},
}
_JOIN = {
    "sqlite": (
        "UPDATE assessments SET document = '{\"document\": ' || document || ', \"detail\": ' || detail || '}' "
        "WHERE json_type(document, '$.schema_version') IS NULL"
    ),
    "postgresql": (
        "UPDATE assessments SET document = json_build_object('document', document, 'detail', detail) "
        "WHERE document -> 'schema_version' IS NULL"
    ),
}
_PART = {
    "sqlite": (
        "UPDATE assessments SET detail = json_extract(document, '$.detail'), "
        "document = json_extract(document, '$.document') WHERE json_type(document, '$.detail') IS NOT NULL"
    ),
    "postgresql": (
        "UPDATE assessments SET detail = document -> 'detail', document = document -> 'document' "
        "WHERE document -> 'detail' IS NOT NULL"
    ),
}
_OLD_INDEX = "ix_assessment_sources_end_of_life_by_life_key_id"
_NEW_INDEX = "ix_assessment_sources_end_of_life_criterion_life_key_id"


def upgrade() -> None:
    """Move the database up to this revision."""
    with op.batch_alter_table("assessment_sources", schema=None) as batch_op:
        batch_op.drop_index(_OLD_INDEX)
        for old, new in _COLUMNS.items():
            batch_op.alter_column(old, new_column_name=new)
    with op.batch_alter_table("assessment_sources", schema=None) as batch_op:
        batch_op.create_index(_NEW_INDEX, ["end_of_life_criterion", "life_key", "id"], unique=False)
    for column, values in _VALUES.items():
        for old, new in values.items():
            _replace(column, old, new)
    op.execute(_JOIN[op.get_bind().dialect.name])
    with op.batch_alter_table("assessments", schema=None) as batch_op:
        batch_op.drop_column("detail")


def downgrade() -> None:
    """Move the database down from this revision; newer documents stay whole, for an older program cannot read them."""
    with op.batch_alter_table("assessments", schema=None) as batch_op:
        batch_op.add_column(sa.Column("detail", sa.JSON(none_as_null=True), nullable=False, server_default="{}"))
    op.execute(_PART[op.get_bind().dialect.name])
    with op.batch_alter_table("assessments", schema=None) as batch_op:
        batch_op.alter_column("detail", server_default=None)
    for column, values in _VALUES.items():
        for old_value, new_value in values.items():
            _replace(column, new_value, old_value)
    with op.batch_alter_table("assessment_sources", schema=None) as batch_op:
        batch_op.drop_index(_NEW_INDEX)
        for old_name, new_name in _COLUMNS.items():
            batch_op.alter_column(new_name, new_column_name=old_name)
    with op.batch_alter_table("assessment_sources", schema=None) as batch_op:
        batch_op.create_index(_OLD_INDEX, ["end_of_life_by", "life_key", "id"], unique=False)


def _replace(column: str, value: str, by: str) -> None:
    table = sa.table("assessment_sources", sa.column(column))
    op.execute(table.update().where(table.c[column] == value).values({column: by}))
