"""Backups of the embedded database while it is in use."""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy.engine import make_url

from lifetime.errors import InputError
from webapi.errors import DatabaseStateError
from webapi.file_rights import make_file, place
from webapi.settings import Settings


def back_up(settings: Settings, target: Path) -> None:
    """Copy the embedded database to a new file; readers and writers go on meanwhile.

    Args:
        settings: With the database.
        target: The new file.

    Raises:
        InputError: The target exists or cannot be written.
        DatabaseStateError: The database is not embedded, is missing, or is damaged.
    """
    if not settings.is_embedded:
        raise DatabaseStateError(
            "Only the embedded database is copied by this command. For PostgreSQL use its own pg_dump, which copies a "
            "running database as well."
        )
    source = Path(str(make_url(settings.database_url).database))
    if not source.is_file():
        raise DatabaseStateError(f"There is no database at {source} yet. packwear db upgrade makes one.")
    if target.exists():
        raise InputError(f"{target} exists already. Give the name of a new file.")
    unfinished = target.with_name(target.name + ".unfinished")
    try:
        make_file(unfinished)
        with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(unfinished)) as there:
            here.backup(there)
            found = str(there.execute("PRAGMA quick_check(1)").fetchone()[0])
        if found != "ok":
            raise _damaged(source, found)
        place(unfinished, target)
    except sqlite3.OperationalError as error:
        raise InputError(f"{target} cannot be written ({error}). Nothing was left behind.") from None
    except OSError as error:
        raise InputError(f"{target} cannot be written ({error.strerror}). Nothing was left behind.") from None
    except sqlite3.DatabaseError as error:
        raise _damaged(source, str(error)) from None
    finally:
        unfinished.unlink(missing_ok=True)


def _damaged(source: Path, reason: str) -> DatabaseStateError:
    """The refusal to copy a damaged database.

    Args:
        source: The database.
        reason: What SQLite says.
    """
    return DatabaseStateError(
        f"The database {source} is damaged ({' '.join(reason.split())}), so no backup was made of it. Keep the backups "
        "you have. packwear db check says more."
    )
