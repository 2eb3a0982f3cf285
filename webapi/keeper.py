"""Keeping processes: each is started again when it dies, and stopped or replaced in order when told."""

import multiprocessing
import signal
import socket
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import Any, Final, Self

from webapi.logs import LOGGER

_REST_S: Final = 1.0
"""No process is started more often than this; one that dies at once would else take all there is."""
_STARTING_S: Final = 60.0
"""How long a new process may take before the one that it replaces goes all the same."""


@dataclass(frozen=True, slots=True)
class Task:
    """What a process is kept for.

    Args:
        name: What the log calls it.
        target: A function of a module, which the process imports; its last argument is a connection that it
            closes when it is ready.
        arguments: The other arguments.
    """

    name: str
    target: Callable[..., None]
    arguments: tuple[Any, ...]


@dataclass(slots=True)
class _Place:
    """A task, and the process that does it at present."""

    task: Task
    process: SpawnProcess | None = None
    started_s: float = field(default=-_REST_S)


class Keeper:
    """Keeps a process at each of several tasks; a context in which signals are its own.

    Args:
        tasks: The tasks.
        stop_s: Time that a process has to stop in order; then it is killed [s].
    """

    def __init__(self, tasks: Sequence[Task], stop_s: float) -> None:
        self._places = tuple(_Place(task) for task in tasks)
        self._stop_s = stop_s
        # Spawned, not forked: a new process has no thread's lock, no connection and no module of an older program.
        self._context = multiprocessing.get_context("spawn")
        self._ended = False
        self._outdated = False
        self._listening = ExitStack()

    def __enter__(self) -> Self:
        """Listen to signals from now on."""
        self._bell = self._listening.enter_context(self._told())
        return self

    def __exit__(self, *_: object) -> None:
        """Leave signals to who had them before."""
        self._listening.close()

    def run(self) -> None:
        """Keep the processes until SIGTERM or SIGINT; SIGHUP replaces every one by a new one."""
        while not self._ended:
            for place in self._places:
                self._see_to(place)
            running = [place.process.sentinel for place in self._places if place.process is not None]
            if self._bell in wait([*running, self._bell], timeout=_REST_S):
                self._bell.recv(1_000)
            if self._outdated and not self._ended:
                self._outdated = False
                self._renew()
        self._end([place.process for place in self._places if place.process is not None])

    def _see_to(self, place: _Place) -> None:
        """Start a process where there is none."""
        if place.process is not None and not place.process.is_alive():
            facts = {"process": place.task.name, "exit_code": place.process.exitcode}
            LOGGER.warning("a process ended and is replaced", extra={"facts": facts})
            place.process = None
        if place.process is None and time.monotonic() - place.started_s >= _REST_S:
            self._start(place).close()

    def _start(self, place: _Place) -> Connection:
        """Start a process; gives the end of a pipe that becomes readable when it is ready, or dies."""
        heard, said = self._context.Pipe(duplex=False)
        task = place.task
        place.process = self._context.Process(
            target=task.target, args=(*task.arguments, said), name=f"packwear-{task.name}", daemon=False
        )
        place.process.start()
        place.started_s = time.monotonic()
        said.close()
        return heard

    def _renew(self) -> None:
        """Replace every process; the old ones go when the new ones are ready."""
        LOGGER.info("processes are replaced")
        old = [place.process for place in self._places if place.process is not None]
        starting = [self._start(place) for place in self._places]
        until_s = time.monotonic() + _STARTING_S
        waiting = list(starting)
        while waiting and not self._ended and time.monotonic() < until_s:
            for one in wait(waiting, timeout=_REST_S):
                waiting.remove(one)  # type: ignore[arg-type]
        for one in starting:
            one.close()
        self._end(old)

    def _end(self, processes: list[SpawnProcess]) -> None:
        for process in processes:
            process.terminate()
        until_s = time.monotonic() + self._stop_s + 2.0 * _REST_S
        for process in processes:
            process.join(timeout=max(0.0, until_s - time.monotonic()))
            if process.is_alive():
                process.kill()
                process.join()
            process.close()

    @contextmanager
    def _told(self) -> Iterator[socket.socket]:
        """Listen to signals; gives a socket that becomes readable with each."""
        bell, hammer = socket.socketpair()
        bell.setblocking(False)
        hammer.setblocking(False)
        handlers = {signal.SIGTERM: self._stop, signal.SIGINT: self._stop}
        if sys.platform != "win32":
            handlers[signal.SIGHUP] = self._replace
        before = {number: signal.signal(number, handler) for number, handler in handlers.items()}
        former = signal.set_wakeup_fd(hammer.fileno(), warn_on_full_buffer=False)
        try:
            yield bell
        finally:
            signal.set_wakeup_fd(former)
            for number, handler in before.items():
                signal.signal(number, handler)
            bell.close()
            hammer.close()

    def _stop(self, *_: object) -> None:
        self._ended = True

    def _replace(self, *_: object) -> None:
        self._outdated = True
