"""Alembic's environment: the connection comes from the program, or from PACKWEAR_DATABASE_URL on the command line."""

from typing import Any

from alembic import context
from sqlalchemy import Connection

from webapi.models import Base


def render(kind: str, item: Any, _: Any) -> str | bool:
    """Write our own column types as the plain types they are stored as, so that old migrations need no new code."""
    plain = {
        "UtcDateTime": "sa.DateTime(timezone=True)",
        "FiniteFloat": "sa.Double()",
        "StrictJson": "sa.JSON(none_as_null=True)",
    }
    return plain.get(type(item).__name__, False) if kind == "type" else False


def migrate(connection: Connection) -> None:
    """Run the migrations on a connection whose transaction the caller holds."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        render_item=render,
        compare_type=True,
        transactional_ddl=False,  # the caller's transaction spans all steps, on SQLite as well
    )
    context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    migrate(given)
else:
    from webapi.database import engine_from
    from webapi.settings import Settings

    engine = engine_from(Settings.from_environment())
    with engine.begin() as opened:
        migrate(opened)
    engine.dispose()
