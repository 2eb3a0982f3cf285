"""One connection to a client: what it may take in time and size, and what it is told where it takes more.

The server reads a whole request before a thread of the application works on it, so slow clients hold no thread. What
they do hold is bounded here: a header has some seconds, a body a pace, and a large body is received only once its
sender is known.
"""

import errno
import json
import socket
import time
from contextlib import suppress
from typing import Any, Final

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.task import ErrorTask, WSGITask
from waitress.utilities import Error

SMALL_BODY_BYTES: Final = 64_000
"""Bodies up to this size are held in memory whoever sends them: forms, studies, one field of text."""
HEADER_S: Final = 10.0
"""In which a header must be complete [s]; no browser or proxy needs a second."""
BODY_GRACE_S: Final = 30.0
BODY_PACE_BYTES_PER_S: Final = 10_000.0
"""A body has the grace, and then as long as this pace needs for what has come."""
IDLE_S: Final = 75.0
"""How long a connection may rest between two requests, or take nothing of its answer [s]; proxies wait 60 s."""
SILENT_S: Final = 30.0
"""How long a new connection may say nothing [s]; browsers open some ahead of need."""
_FAREWELL_S: Final = 2.0
"""How long a refused sender is listened to [s], so that it reads the answer before the connection ends."""
_WORDS: Final = {
    408: "The request came too slowly and was given up. Send it again over a faster line.",
    413: "The request was refused before it was read: it is larger than this service allows.",
    503: "The disk is full. Nothing was kept; free some room, then try again.",
}
_NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT)
_MALFORMED: Final = "The request was refused before it was read: it is malformed, or its header too large."


class TooSlowError(Error):
    """A request that did not come in time."""

    code = 408
    reason = "Request Timeout"


class NoRoomError(Error):
    """A request whose body finds no room on the disk."""

    code = 503
    reason = "Service Unavailable"


class ProblemTask(ErrorTask):
    """Answers what the server itself refuses (too large, too slow, malformed) with the same body as every error."""

    def execute(self) -> None:
        """Send the answer."""
        error = self.request.error
        body = json.dumps(
            {
                "type": "about:blank",
                "title": error.reason,
                "status": error.code,
                "detail": _WORDS.get(error.code, _MALFORMED),
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


class AnswerTask(WSGITask):
    """Answers a request; a server that stops says that the connection ends."""

    def build_response_header(self) -> bytes:
        """Write the head of the answer."""
        if self.channel.server.stopping:
            self.request.headers["CONNECTION"] = "close"
        return bytes(super().build_response_header())


class Request(HTTPRequestParser):
    """A request while it comes in."""

    expect_continue: bool
    needs_admission = False
    """True where the body is large and nobody has said yet that it may come."""
    wants_continue = False
    """True where the client waits to be told that it may send its body."""

    def __init__(self, adj: Any) -> None:
        super().__init__(adj)
        self.begun_s = time.monotonic()

    def parse_header(self, header_plus: bytes) -> None:
        """Read the header, and see whether a large body follows."""
        super().parse_header(header_plus)
        if self.chunked or self.content_length > SMALL_BODY_BYTES:
            self.needs_admission = True
            self.wants_continue, self.expect_continue = self.expect_continue, False

    def is_late(self, now_s: float) -> bool:
        """Whether the rest of it should have come by now.

        Args:
            now_s: The clock that ``begun_s`` was read from [s].
        """
        passed_s = now_s - self.begun_s
        if not self.headers_finished:
            return passed_s > HEADER_S
        return passed_s > BODY_GRACE_S + float(self.body_bytes_received) / BODY_PACE_BYTES_PER_S

    def drop_body(self) -> None:
        """Make it a request without a body, after which its connection ends."""
        self.close()
        self.body_rcv = None
        self.headers.update({"CONTENT_LENGTH": "0", "CONNECTION": "close"})
        self.completed = True


class Admission:
    """The question whether a large body may come, asked on a thread of the application.

    Args:
        connection: Whose request waits.
        request: It.
    """

    def __init__(self, connection: "Connection", request: Request) -> None:
        self._connection = connection
        self._request = request

    def service(self) -> None:
        """Ask, and let the connection go on."""
        admitted = False
        try:
            environ = WSGITask(self._connection, self._request).get_environment()
            admitted = self._connection.server.admits(environ)
        finally:
            self._connection.decide(self._request, admitted=admitted)

    def cancel(self) -> None:
        """Give the request up, because the server stops."""
        self._connection.cancel()


class Connection(HTTPChannel):
    """A connection whose refusals are problem details and whose requests have to come in time."""

    task_class = AnswerTask
    error_task_class = ProblemTask
    parser_class = Request
    request: Request | None
    _waits = False
    _refused = False
    _farewell_until_s: float | None = None

    def readable(self) -> bool:
        """Whether more may be read."""
        if self._farewell_until_s is not None:
            return True
        return not self._waits and bool(super().readable())

    def writable(self) -> bool:
        """Whether there is something to write, or to end."""
        return self._farewell_until_s is None and bool(super().writable())

    def received(self, data: bytes) -> bool:
        """Take in what came.

        Args:
            data: What came.
        """
        if self._farewell_until_s is not None:
            return False
        try:
            taken = super().received(data)
        except OSError as error:
            if error.errno not in _NO_ROOM:
                raise
            self._refuse(NoRoomError(""))
            return False
        request = self.request
        if request is not None and request.headers_finished and request.needs_admission and not self.requests:
            self._waits = True
            self.server.ask(Admission(self, request))
        return bool(taken)

    def decide(self, request: Request, *, admitted: bool) -> None:
        """Receive the rest of a request, or let it be answered without.

        Args:
            request: The one that waited.
            admitted: Whether its body may come.
        """
        with self.requests_lock:
            request.needs_admission = False
            request.begun_s = time.monotonic()
            if self.request is request and not admitted:
                request.drop_body()
                self._refused = True
                self.request = None
                self.requests.append(request)
                self.server.add_task(self)
            elif self.request is request and request.wants_continue:
                self.send_continue()
            self._waits = False
        self.server.pull_trigger()

    def service(self) -> None:
        """Answer one request, and see whether the next one may come."""
        if self.requests[0].error:
            self._refused = True
        super().service()
        following = self.request
        if following is not None and following.headers_finished and following.needs_admission and not self._waits:
            self._waits = True
            self.server.ask(Admission(self, following))

    def handle_close(self) -> None:
        """End the connection; a sender that was refused amid its body is listened to until it has the answer."""
        if self._refused and self._farewell_until_s is None and self.connected and not self.total_outbufs_len:
            self._farewell_until_s = time.monotonic() + _FAREWELL_S
            with suppress(OSError):
                self.socket.shutdown(socket.SHUT_WR)
            return
        super().handle_close()

    def look_after(self, now_s: float) -> None:
        """Give up what has taken too long.

        Args:
            now_s: The clock of ``time.monotonic`` [s].
        """
        if self._farewell_until_s is not None:
            if now_s > self._farewell_until_s:
                super().handle_close()
            return
        if self._waits or (self.requests and not self.total_outbufs_len):
            return
        if self.request is None or self.requests:
            is_new = self.last_activity == self.creation_time
            if time.time() - self.last_activity > (SILENT_S if is_new else IDLE_S):
                self.will_close = True
        elif self.request.is_late(now_s):
            self._refuse(TooSlowError(""))

    def _refuse(self, error: Error) -> None:
        """Answer the request that comes in with an error."""
        with self.requests_lock:
            request, self.request = self.request, None
            if request is not None:
                request.error, request.completed = error, True
                self.requests.append(request)
                self.server.add_task(self)

    @property
    def rests(self) -> bool:
        """True between two requests."""
        return self.request is None and not self.requests and not self.total_outbufs_len and not self._waits
