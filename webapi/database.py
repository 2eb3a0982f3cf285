"""Engines and sessions: SQLite in a file of this machine, or PostgreSQL by URL."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, func, select
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session, sessionmaker
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from webapi.errors import DatabaseStateError
from webapi.file_rights import make_file, make_folder
from webapi.settings import Settings
from webapi.types import utc_now

_WRITE = "packwear_write"


def make_engine(url: str, busy_timeout_s: float = 15.0) -> Engine:
    """Make an engine; nothing is opened yet, but the folder of an SQLite file is made.

    Args:
        url: ``sqlite:///FILE`` or ``postgresql+psycopg://...`` (``postgresql://`` is taken as the same).
        busy_timeout_s: How long to wait for a locked database [s].

    Raises:
        DatabaseStateError: The URL is none of these.
    """
    parsed = _parsed(url)
    if parsed.get_backend_name() == "postgresql":
        return create_engine(parsed, pool_pre_ping=True, pool_size=10, max_overflow=20, hide_parameters=True)
    path = Path(str(parsed.database))
    make_folder(path.parent)
    engine = create_engine(
        parsed,
        poolclass=QueuePool,
        pool_size=10,
        max_overflow=20,
        hide_parameters=True,  # what people wrote does not belong into the log
        connect_args={"timeout": busy_timeout_s, "check_same_thread": False},
    )
    # The files that the database puts beside its own take over the rights of that one.
    event.listen(engine, "do_connect", lambda *_: make_file(path))
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def engine_from(settings: Settings) -> Engine:
    """The engine that the settings ask for.

    Args:
        settings: With ``database_url``.
    """
    return make_engine(settings.database_url, settings.busy_timeout_s)


def session_factory(engine: Engine) -> sessionmaker[Session]:
    """Sessions whose objects stay readable after their transaction.

    Args:
        engine: Where they work.
    """
    return sessionmaker(engine, expire_on_commit=False)


@contextmanager
def write(session: Session) -> Iterator[Session]:
    """One writing transaction; committed at the end, rolled back on an error.

    A reading transaction that the session still has open is ended first. On SQLite the write lock is taken at once:
    a transaction that begins by reading and writes later is refused without waiting when another came between.

    Args:
        session: Without unsaved changes.
    """
    if session.in_transaction():
        session.commit()
    session.connection(execution_options={_WRITE: True})
    try:
        yield session
        session.commit()
    except BaseException:
        session.rollback()
        raise


def now(session: Session) -> datetime:
    """This instant by the database's clock, which all processes share.

    Args:
        session: Where.
    """
    if session.get_bind().dialect.name == "sqlite":
        return utc_now()  # the file lies on this machine, and so does the clock
    instant: datetime = session.execute(select(func.clock_timestamp())).scalar_one()
    return instant


def hold(session: Session, name: str) -> None:
    """Keep other transactions that hold the same name waiting until this one ends.

    Args:
        session: In a writing transaction; on SQLite that alone keeps all others waiting.
        name: What is held.
    """
    if session.get_bind().dialect.name == "postgresql":
        session.execute(select(func.pg_advisory_xact_lock(func.hashtextextended(name, 0))))


@contextmanager
def locked(engine: Engine, *, enforce_references: bool = True) -> Iterator[Connection]:
    """One connection in one writing transaction; on SQLite the write lock is held from its beginning.

    Args:
        engine: Where.
        enforce_references: False lets SQLite rebuild a table that others point at; the caller checks at the end.
    """
    with engine.connect().execution_options(**{_WRITE: True}) as connection:
        switch = connection.dialect.name == "sqlite" and not enforce_references
        driver = connection.connection.driver_connection
        assert driver is not None  # noqa: S101 - an open connection has one
        if switch:
            driver.execute("PRAGMA foreign_keys=OFF")  # has no effect within a transaction
        try:
            with connection.begin():
                yield connection
        finally:
            if switch:
                driver.execute("PRAGMA foreign_keys=ON")


def _parsed(url: str) -> URL:
    try:
        parsed = make_url(url)
    except ArgumentError:
        raise DatabaseStateError(
            "The database URL cannot be read. Give sqlite:///FILE or postgresql+psycopg://USER@HOST/NAME."
        ) from None
    backend = parsed.get_backend_name()
    if backend == "postgresql":
        return parsed.set(drivername="postgresql+psycopg")
    if backend != "sqlite" or not parsed.database or parsed.database == ":memory:":
        raise DatabaseStateError(
            f"Databases of the kind {backend} without a file or host are not used here. Give sqlite:///FILE or "
            "postgresql+psycopg://USER@HOST/NAME."
        )
    return parsed


def _prepare(connection: Any, _: ConnectionPoolEntry) -> None:
    """Every new SQLite connection: transactions by us, a log beside the file, and references that hold."""
    connection.isolation_level = None  # the driver would begin transactions too late and without a lock
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.close()


def _begin(connection: Any) -> None:
    writes = connection.get_execution_options().get(_WRITE, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
