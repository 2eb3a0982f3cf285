r"""Errors of the service, grafted onto the library's tree.

PackwearError
├── InputError
│   ├── LimitError            an upload or a study exceeds a stated limit
│   ├── ReadingError        reading an uploaded file ended in a way that nobody foresaw
│   ├── QueryError            a filter, a sort key or a cursor cannot be used
│   ├── NotFoundError         nothing is stored under that id
│   └── ConflictError         what is stored does not allow it as it is now
├── StoreError                the store cannot be written or read, or something is missing from it
├── ListenError               the web server cannot listen at its address
├── TokenError                no token, an unknown one, or one that was revoked
└── DatabaseStateError        the database does not fit the program; names the command that helps
"""

from lifetime.errors import InputError, PackwearError


class LimitError(InputError):
    """An upload or a study exceeds a stated limit.

    Args:
        message: What was found, what is allowed, and what to do.
    """


class ReadingError(InputError):
    """Reading an uploaded file ended in a way that nobody foresaw; the log has what happened.

    Args:
        label: The file's name as the user gave it.
    """

    def __init__(self, label: str) -> None:
        super().__init__(
            f"{label}: reading the file ended unexpectedly, so nothing was kept. Export it again, as plain CSV if it "
            "is something else."
        )


class QueryError(InputError):
    """A filter, a sort key or a cursor cannot be used.

    Args:
        field: Which.
        message: What is wrong and what was expected.
    """

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        self.problem = message
        super().__init__(f"{field} {message}")


class NotFoundError(InputError):
    """Nothing is stored under that id.

    Args:
        kind: What was looked for: history, study, assessment, sweep, job, token.
        key: The id given.
    """

    def __init__(self, kind: str, key: str) -> None:
        self.kind = kind
        self.key = key
        super().__init__(f'No {kind} is stored under the id "{key[:80]}".')


class ConflictError(InputError):
    """What is stored does not allow it as it is now: something is needed elsewhere, or has ended already.

    Args:
        message: What stands against it, and what to do.
    """


class ListenError(PackwearError):
    """The web server cannot listen at its address: another program does, or this machine does not have it.

    Args:
        host: The address asked for.
        port: The port asked for.
        reason: What the system says.
    """

    def __init__(self, host: str, port: int, reason: str) -> None:
        super().__init__(
            f"The service cannot listen at {host}, port {port}: {reason}. Choose another with --port or --host, or "
            "stop the program that listens there."
        )


class TokenError(PackwearError):
    """No token, an unknown one, or one that was revoked; the message does not say which of them."""


class DatabaseStateError(PackwearError):
    """The database does not fit the program; the message names the command that helps."""


class StoreError(PackwearError):
    """The store of histories cannot be written or read: no room, no rights, or something is missing from it."""
