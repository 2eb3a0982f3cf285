"""One of the service's web processes.

Slow imports are inside the functions: the process that keeps this one imports the module only to name it.
"""

import signal
import socket
import sys
import tempfile
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Final

from webapi.logs import start_logging
from webapi.settings import Settings

if TYPE_CHECKING:
    from webapi.web_server import Threads, WebServer

_FILES_WANTED: Final = 4_096
"""Open files for all connections of a process; many systems begin with a quarter of it."""


def web_server(
    settings: Settings, listener: socket.socket, limits_file: Path | None = None, threads: "Threads | None" = None
) -> "WebServer":
    """The application on a listening socket.

    Args:
        settings: Everything that can be set.
        listener: The socket.
        limits_file: Where all web processes count what callers do; None counts in this one alone.
        threads: How many threads answer, if not as many as usual.

    Raises:
        DatabaseStateError: The database does not fit the program, or tokens are needed and there are none.
    """
    from webapi.admission import admits  # noqa: PLC0415
    from webapi.app import FORM_OVERHEAD_BYTES, create_app  # noqa: PLC0415
    from webapi.web_server import Threads, WebServer  # noqa: PLC0415

    app = create_app(settings, limits_file)
    # A little more than a form with the largest file, so that the application words the refusal near the limit.
    most = settings.upload_bytes + 2 * FORM_OVERHEAD_BYTES
    return WebServer(app, listener, partial(admits, app), threads or Threads(), most)


def answer_forever(settings: Settings, listener: socket.socket, limits_file: Path, ready: Connection) -> None:
    """Answer until told to stop, or until the process that started this one ends.

    Args:
        settings: Everything that can be set.
        listener: The socket that all web processes share.
        limits_file: Where they count what callers do.
        ready: Told when this process answers.
    """
    from webapi.job_process import end_with_parent  # noqa: PLC0415
    from webapi.store import open_store  # noqa: PLC0415

    end_with_parent()
    # An interrupt from the terminal reaches every process of the group; the parent says what to do.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    start_logging(settings.log_level)
    _allow_files()
    # Large bodies wait in files without a name; they belong to the store's disk, not to the system's.
    tempfile.tempdir = str(open_store(settings.store_url).workspace())
    server = web_server(settings, listener, limits_file)
    signal.signal(signal.SIGTERM, lambda *_: server.stop(settings.stop_s))
    ready.close()
    server.run()
    server.application.extensions["packwear"].engine.dispose()


def _allow_files() -> None:
    if sys.platform == "win32":
        return
    import resource  # noqa: PLC0415 - there is none on Windows

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = _FILES_WANTED if hard == resource.RLIM_INFINITY else min(_FILES_WANTED, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
