"""Opening database and store for a command."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from webapi import migrate
from webapi.database import engine_from, session_factory
from webapi.settings import Settings
from webapi.store import HistoryStore, open_store

if TYPE_CHECKING:
    from sqlalchemy.orm import Session, sessionmaker


@contextmanager
def opened(settings: Settings | None = None) -> Iterator[tuple["sessionmaker[Session]", HistoryStore]]:
    """The database and the store that the settings name; an embedded database that is empty is set up first.

    Args:
        settings: In place of those from the environment.

    Raises:
        DatabaseStateError: The database does not fit the program; the message names the command that helps.
    """
    asked = settings or Settings.from_environment()
    engine = engine_from(asked)
    try:
        migrate.make_ready(engine, embedded=asked.is_embedded)
        yield session_factory(engine), open_store(asked.store_url)
    finally:
        engine.dispose()
