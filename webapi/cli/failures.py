"""What a command says when the database fails: one line, never a stack trace, never a password."""

from collections.abc import Iterator
from contextlib import contextmanager

from lifetime.cli.terminal import exit_codes
from webapi.errors import DatabaseStateError


@contextmanager
def answered() -> Iterator[None]:
    """Exit codes and messages as for every command, and those of a database that cannot be reached or is locked."""
    with exit_codes():
        from sqlalchemy.exc import DatabaseError, OperationalError  # noqa: PLC0415 - slow import

        try:
            yield
        except OperationalError as error:
            raise unreachable(error) from None
        except DatabaseError as error:
            if type(error) is not DatabaseError:
                raise  # its kinds are other faults than a damaged file
            raise DatabaseStateError(
                f"The database's file is damaged ({str(error.orig).splitlines()[0]}). Stop the service, and restore a "
                "backup."
            ) from None
        except ModuleNotFoundError as error:
            if error.name != "psycopg":
                raise
            raise DatabaseStateError(
                "PostgreSQL needs one more package. Run: pip install 'packwear[postgres]'"
            ) from None


def unreachable(error: Exception) -> DatabaseStateError:
    """The message for a database that does not answer.

    Args:
        error: What the database library raised.
    """
    reason = str(getattr(error, "orig", error)).strip().splitlines()[0]
    return DatabaseStateError(
        f"The database does not answer ({reason}). Check PACKWEAR_DATABASE_URL and that its server runs."
    )
