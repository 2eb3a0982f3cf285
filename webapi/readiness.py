"""Whether a service may start on its database."""

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from webapi import migrate
from webapi.errors import DatabaseStateError
from webapi.services import tokens
from webapi.settings import Settings


def make_ready(engine: Engine, settings: Settings) -> None:
    """Set up an embedded database that is empty, and refuse what does not fit the program or lets everybody in.

    Args:
        engine: The database.
        settings: Everything that can be set.

    Raises:
        DatabaseStateError: The database does not fit the program, or tokens are needed and there are none; the message
            names the command that helps.
    """
    migrate.make_ready(engine, embedded=settings.is_embedded)
    if not settings.needs_token:
        return
    with Session(engine) as session:
        if not tokens.is_any(session):
            raise DatabaseStateError(
                f"Listening at {settings.host} on this database needs tokens, and there are none. Make one first: "
                "packwear token create NAME --role administrator"
            )
