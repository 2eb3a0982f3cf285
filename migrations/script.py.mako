"""${message}.

Revision ID: ${up_revision}
Revises: ${down_revision | comma,n}

Rules for a migration: it must run on SQLite (batch mode) and on PostgreSQL, keep every row both ways, name every
constraint, and import nothing but alembic and sqlalchemy, so that it still runs when the models have moved on.
"""

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = ${repr(depends_on)}


def upgrade() -> None:
    """Move the database up to this revision."""
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    """Move the database back, keeping its rows."""
    ${downgrades if downgrades else "pass"}
