"""Bringing a database to the state the program expects, and saying what state it is in."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final, Literal

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, text

from webapi.database import locked
from webapi.errors import DatabaseStateError

State = Literal["empty", "current", "behind", "newer"]
_LOCK: Final = 7_225_932_001
"""Key of the PostgreSQL lock that keeps two programs from migrating at once; any number of our own."""


@dataclass(frozen=True, slots=True)
class DatabaseState:
    """Where a database stands.

    Args:
        state: ``empty``, ``current``, ``behind`` the program, or ``newer`` than the program.
        revision: Its revision, or None where it is empty.
        head: Revision the program expects.
    """

    state: State
    revision: str | None
    head: str


def state(engine: Engine) -> DatabaseState:
    """Find out where a database stands; nothing is changed.

    Args:
        engine: The database.
    """
    with engine.connect() as connection:
        return _state(connection)


def upgrade(engine: Engine) -> DatabaseState:
    """Bring a database up to the program; two programs may do so at once, one waits for the other.

    Args:
        engine: The database.

    Returns:
        Where it stood before.

    Raises:
        DatabaseStateError: It is newer than the program.
    """
    with _alone(engine) as connection:
        before = _state(connection)
        if before.state == "newer":
            raise newer_than_program(before)
        if before.state != "current":
            command.upgrade(_config(connection), "head")
        return before


def downgrade(engine: Engine, revision: str) -> None:
    """Take a database back to an older revision, keeping its rows.

    Args:
        engine: The database.
        revision: As Alembic names it; ``base`` for an empty one.
    """
    with _alone(engine) as connection:
        command.downgrade(_config(connection), revision)


def require_current(engine: Engine) -> DatabaseState:
    """Refuse a database that does not fit the program.

    Args:
        engine: The database.

    Returns:
        Where it stands, which is ``current``.

    Raises:
        DatabaseStateError: It is empty, behind or newer; the message names the command that helps.
    """
    now = state(engine)
    if now.state == "newer":
        raise newer_than_program(now)
    if now.state != "current":
        raise DatabaseStateError(
            f"The database is {'empty' if now.state == 'empty' else f'at revision {now.revision}'}, this program "
            f"expects {now.head}. Run: packwear db upgrade"
        )
    return now


def make_ready(engine: Engine, *, embedded: bool) -> None:
    """Set up an embedded database that is empty, and refuse one that does not fit the program.

    Args:
        engine: The database.
        embedded: Whether it is a file of this program's own; nobody else would set that up.

    Raises:
        DatabaseStateError: It does not fit; the message names the command that helps.
    """
    if embedded and state(engine).state == "empty":
        upgrade(engine)
    require_current(engine)


def newer_than_program(found: DatabaseState) -> DatabaseStateError:
    """The refusal of a database that a newer program has written.

    Args:
        found: Where it stands.
    """
    return DatabaseStateError(
        f"The database is at revision {found.revision}, which this program does not know; a newer packwear has "
        "upgraded it. Install that version (pip install --upgrade packwear), or restore a backup made before."
    )


def migrations_folder() -> Path:
    """Where the migrations lie: inside the installed package, or at the top of the repository."""
    installed = Path(__file__).parent / "migrations"
    return installed if installed.is_dir() else Path(__file__).parents[1] / "migrations"


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _state(connection: Connection) -> DatabaseState:
    head = _head()
    revision = MigrationContext.configure(connection).get_current_revision()
    if revision is None:
        return DatabaseState("empty", None, head)
    if revision == head:
        return DatabaseState("current", revision, head)
    known = {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}
    return DatabaseState("behind" if revision in known else "newer", revision, head)


def _head() -> str:
    """Revision this program expects."""
    return _newest(migrations_folder())


@cache
def _newest(folder: Path) -> str:
    """Newest of the revisions in a folder; they do not change while the program runs."""
    return ScriptDirectory(str(folder)).get_current_head() or ""


@contextmanager
def _alone(engine: Engine) -> Iterator[Connection]:
    """One transaction that no other program can migrate beside.

    SQLite changes a table by making a new one in its place; while that happens, rows of other tables point at nothing.
    So references are not enforced during a migration, and all of them are checked at its end.
    """
    with locked(engine, enforce_references=False) as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
        yield connection
        if connection.dialect.name == "sqlite" and connection.execute(text("PRAGMA foreign_key_check")).first():
            raise DatabaseStateError(
                "The migration would leave rows that point at nothing; it was undone. Run packwear db check and report "
                "its answer."
            )
