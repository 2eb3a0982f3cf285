"""Running the service: a web server and one worker process that is started again when it dies."""

import json
import multiprocessing
import os
import signal
import socket
import sys
import threading
from typing import Any

from waitress.channel import HTTPChannel
from waitress.server import create_server
from waitress.task import ErrorTask

from webapi.app import FORM_OVERHEAD_BYTES, create_app
from webapi.database import engine_from, session_factory
from webapi.errors import ListenError
from webapi.logs import LOGGER, start_logging
from webapi.services.deletion import remove_files
from webapi.settings import Settings
from webapi.store import open_store
from webapi.worker import work_forever

_THREADS = 8


class ProblemTask(ErrorTask):
    """Answers what the server itself refuses (too large, malformed) with the same body as every other error."""

    def execute(self) -> None:
        """Send the answer."""
        error = self.request.error
        body = json.dumps(
            {
                "type": "about:blank",
                "title": error.reason,
                "status": error.code,
                "detail": "The request was refused before it was read: it is too large or malformed.",
                "request_id": "",
                "faults": [],
            }
        ).encode()
        self.status = f"{error.code} {error.reason}"
        self.response_headers.append(("Content-Type", "application/problem+json"))
        self.response_headers.append(("Content-Length", str(len(body))))
        self.response_headers.append(("Connection", "close"))
        self.close_on_finish = True
        self.content_length = len(body)
        self.write(body)


class ProblemChannel(HTTPChannel):
    """A connection whose refusals are problem details."""

    error_task_class = ProblemTask


def make_server(settings: Settings) -> Any:
    """The web server, listening but not yet answering.

    Args:
        settings: With host and port; port 0 takes a free one.

    Raises:
        DatabaseStateError: The database does not fit the program, or tokens are needed and there are none.
        ListenError: Another program listens there, or this machine does not have the address.
    """
    app = create_app(settings)
    try:
        server = create_server(
            app,
            host=settings.host,
            port=settings.port,
            threads=_THREADS,
            # A little more than a form with the largest file, so that the application words the refusal near the limit.
            max_request_body_size=settings.upload_bytes + 2 * FORM_OVERHEAD_BYTES,
            ident="packwear",
            # Headers of proxies reach the application, which refuses or believes them (webapi/forwarding.py).
            clear_untrusted_proxy_headers=False,
        )
    except (OSError, OverflowError, ValueError) as error:
        app.extensions["packwear"].engine.dispose()
        raise ListenError(settings.host, settings.port, _reason(error)) from None
    server.channel_class = ProblemChannel
    return server


def serve_forever(settings: Settings) -> None:
    """Run web server and worker until stopped.

    Args:
        settings: Everything that can be set.

    Raises:
        DatabaseStateError: The database does not fit the program, or tokens are needed and there are none.
        ListenError: Another program listens there, or this machine does not have the address.
    """
    start_logging(settings.log_level)
    server = make_server(settings)
    _clean(settings)
    ended = threading.Event()
    keeper = threading.Thread(target=_keep_worker, args=(settings, ended), name="keeper", daemon=True)
    keeper.start()
    # The server ends its loop in order on this exception; closing its socket under the loop would end in an error.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    LOGGER.info("listening", extra={"facts": {"address": f"http://{settings.host}:{settings.port}/"}})
    try:
        server.run()
    finally:
        server.close()
        ended.set()
        keeper.join(timeout=10.0)


def _clean(settings: Settings) -> None:
    """Remove what a crash left in the store."""
    store, engine = open_store(settings.store_url), engine_from(settings)
    store.clean()
    try:
        with session_factory(engine)() as session:
            remove_files(session, store)
    finally:
        engine.dispose()


def _reason(error: Exception) -> str:
    if isinstance(error, OSError) and error.errno is not None and not isinstance(error, socket.gaierror):
        return os.strerror(error.errno).lower()
    return "no address of this machine has that name"


def _keep_worker(settings: Settings, ended: threading.Event) -> None:
    """Keep one worker process running; a worker that is killed is replaced."""
    context = multiprocessing.get_context("spawn")
    worker = None
    while not ended.is_set():
        if worker is None or not worker.is_alive():
            worker = context.Process(target=work_forever, args=(settings,), name="packwear-worker")
            worker.start()
        ended.wait(1.0)
    if worker is not None:
        worker.terminate()
        worker.join(timeout=5.0)
