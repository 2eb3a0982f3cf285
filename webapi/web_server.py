"""The web server of one process: one loop that reads and writes for all connections, few threads that answer."""

import logging
import socket
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from webapi.connection import IDLE_S, Admission, Connection

_CONNECTIONS: Final = 1_000
"""Most connections of one process; beyond, new ones wait in the system's queue."""
_READ_AT_ONCE_BYTES: Final = 65_536
_MOST_HEADER_BYTES: Final = 65_536
_MOST_WAITING_BYTES: Final = 64_000_000
"""What may wait for a slow reader before the thread that writes it waits too."""
_PARTING_S: Final = 1.0
"""How long a stopping server listens on connections at rest [s]: a request may be on its way."""
_LOOP_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class Threads:
    """How many threads answer.

    Args:
        reading: For what only reads; more than two would only wait for the interpreter.
        writing: For uploads and submissions, which may wait for a lock or another process.
    """

    reading: int = 2
    writing: int = 4


class WebServer(TcpWSGIServer):
    """Answers on a listening socket that it may share with other processes.

    Args:
        app: The WSGI application.
        listener: The socket, bound.
        admits: Whether a request with a large body may be received, from its environment without body.
        threads: How many threads answer.
        body_bytes: Largest body [byte].
    """

    channel_class = Connection

    def __init__(
        self,
        app: Any,
        listener: socket.socket,
        admits: Callable[[dict[str, Any]], bool],
        threads: Threads,
        body_bytes: int,
    ) -> None:
        self.admits = admits
        self.stopping = False
        self._stop_until_s: float | None = None
        self._writing = _lane(threads.writing)
        # Refusals and warnings of a full queue are what a crowd looks like; the request log has the durations.
        logging.getLogger("waitress.queue").setLevel(logging.ERROR)
        adjustments = Adjustments(
            sockets=[listener],
            ident="packwear",
            max_request_body_size=body_bytes,
            max_request_header_size=_MOST_HEADER_BYTES,
            recv_bytes=_READ_AT_ONCE_BYTES,
            outbuf_high_watermark=_MOST_WAITING_BYTES,
            connection_limit=_CONNECTIONS,
            channel_timeout=int(IDLE_S),
            cleanup_interval=1,
            # Headers of proxies reach the application, which refuses or believes them (webapi/forwarding.py).
            clear_untrusted_proxy_headers=False,
        )
        where = (listener.family, listener.type, listener.proto, listener.getsockname())
        lane = _lane(threads.reading)
        super().__init__(app, {}, _sock=listener, dispatcher=lane, adj=adjustments, sockinfo=where, bind_socket=False)

    def add_task(self, task: Any) -> None:
        """Let a thread work on a request: what may take long never stands before what only reads."""
        request = task.requests[0] if isinstance(task, Connection) and task.requests else None
        reads = request is None or request.error or request.command in {"GET", "HEAD"}
        (self.task_dispatcher if reads else self._writing).add_task(task)

    def ask(self, admission: Admission) -> None:
        """Let a thread find out whether a large body may come."""
        self.task_dispatcher.add_task(admission)

    def maintenance(self, now: float) -> None:
        """Look after all connections; called about once a second."""
        del now
        now_s = time.monotonic()
        for connection in list(self.active_channels.values()):
            connection.look_after(now_s)

    def stop(self, within_s: float) -> None:
        """Begin to stop: take no new connection, answer what came; may be called from a signal handler.

        Args:
            within_s: Time after which what is still unanswered is given up [s].
        """
        self._stop_until_s = time.monotonic() + within_s
        with suppress(OSError):  # it may have stopped since
            self.pull_trigger()

    def run(self) -> None:
        """Answer until stopped."""
        parting_s = None
        while parting_s is None or not self._is_done(parting_s):
            wasyncore.loop(timeout=_LOOP_S if parting_s is None else 0.05, use_poll=True, map=self._map, count=1)
            if self._stop_until_s is not None and parting_s is None:
                self._close_door()
                parting_s = time.monotonic() + _PARTING_S
        for lane in (self.task_dispatcher, self._writing):
            lane.shutdown(timeout=1)
        wasyncore.close_all(self._map, ignore_all=True)

    def _close_door(self) -> None:
        """Take what already knocked, then nothing more."""
        self.stopping = True
        before = -1
        while len(self._map) != before:
            before = len(self._map)
            self.handle_accept()
        self.accepting = False
        self.del_channel()
        self.socket.close()

    def _is_done(self, parting_s: float) -> bool:
        now_s = time.monotonic()
        for connection in list(self.active_channels.values()):
            if connection.rests and now_s > parting_s:
                connection.will_close = True
            connection.look_after(now_s)
        return not self.active_channels or (self._stop_until_s is not None and now_s > self._stop_until_s)


def _lane(threads: int) -> ThreadedTaskDispatcher:
    lane = ThreadedTaskDispatcher()
    lane.set_thread_count(threads)
    return lane
