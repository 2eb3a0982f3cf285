"""Running the service: several web processes on one socket, and one worker.

The process that is started answers nothing itself. It holds the socket, so that no connection is refused while a
process dies or is replaced, and keeps the others (``keeper.py``): SIGTERM and SIGINT end all in order, SIGHUP replaces
each by a new one of the program as it lies on the disk now.
"""

import os
import secrets
import signal
import socket
import tempfile
import threading
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Final

from pydantic import SecretStr

from webapi.database import engine_from, session_factory
from webapi.errors import ListenError
from webapi.keeper import Keeper, Task
from webapi.logs import LOGGER, start_logging
from webapi.readiness import make_ready
from webapi.services.deletion import remove_files
from webapi.settings import Settings
from webapi.store import HistoryStore, open_store
from webapi.web_process import answer_forever

_BACKLOG: Final = 1_024
"""Connections that wait while all web processes are busy or starting."""


def serve_forever(settings: Settings) -> None:
    """Run web processes and worker until stopped.

    Args:
        settings: Everything that can be set.

    Raises:
        DatabaseStateError: The database does not fit the program, or tokens are needed and there are none.
        ListenError: Another program listens there, or this machine does not have the address.
    """
    start_logging(settings.log_level)
    engine = engine_from(settings)
    try:
        make_ready(engine, settings)
    finally:
        engine.dispose()  # the other processes open their own connections
    if settings.secret_key is None:
        # A form that one process gave out is sent to another.
        settings = settings.model_copy(update={"secret_key": SecretStr(secrets.token_hex(32))})
    with listening(settings.host, settings.port) as listener:
        store = open_store(settings.store_url)
        _clean(settings, store)
        with tempfile.TemporaryDirectory(dir=store.workspace(), ignore_cleanup_errors=True) as folder:
            web = (settings, listener, Path(folder) / "limits.db")
            tasks = [Task(f"web-{number}", answer_forever, web) for number in range(1, settings.web_processes + 1)]
            with Keeper([*tasks, Task("worker", work_until_told, (settings,))], settings.stop_s) as keeper:
                LOGGER.info("listening", extra={"facts": {"address": f"http://{settings.host}:{settings.port}/"}})
                keeper.run()


def listening(host: str, port: int) -> socket.socket:
    """A socket that listens; connections wait in it until a process takes them.

    Args:
        host: Name or address; of several addresses of a name the first of IPv4 is taken.
        port: 0 takes a free one.

    Raises:
        ListenError: Another program listens there, or this machine does not have the address.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, *_, address = min(found, key=lambda one: one[0] != socket.AF_INET)
        return socket.create_server(address, family=family, backlog=_BACKLOG)
    except (OSError, OverflowError, ValueError) as error:
        raise ListenError(host, port, _reason(error)) from None


def work_until_told(settings: Settings, ready: Connection) -> None:
    """Do jobs until told to stop; the job in hand is ended first.

    Args:
        settings: With database and store.
        ready: Told at once: jobs wait for a worker, nobody else does.
    """
    from webapi.worker import work_forever  # noqa: PLC0415 - slow, and only the worker needs it

    ended = threading.Event()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    ready.close()
    work_forever(settings, ended)


def _clean(settings: Settings, store: HistoryStore) -> None:
    """Remove what a crash left in the store."""
    store.clean()
    engine = engine_from(settings)
    try:
        with session_factory(engine)() as session:
            remove_files(session, store)
    finally:
        engine.dispose()


def _reason(error: Exception) -> str:
    if isinstance(error, OSError) and error.errno is not None and not isinstance(error, socket.gaierror):
        return os.strerror(error.errno).lower()
    return "no address of this machine has that name"
