"""A job in a process of its own, with bounds of memory and time, that can be ended at any moment.

Whatever an assessment does to memory or to the libraries it uses then ends that process and its job, never the worker;
and a job that was cancelled ends at once, wherever it is. The process does the whole job, to the transaction that
stores the result, so nothing large travels between the two; the worker gives the signs of life. Processes are forked
from a server that has imported everything and done nothing, which takes milliseconds and inherits no connection.
"""

import logging
import multiprocessing
import os
import signal
import threading
import time
from contextlib import suppress
from multiprocessing.process import BaseProcess
from typing import Any, Final

from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session, sessionmaker

from webapi.database import engine_from, session_factory
from webapi.logs import start_logging
from webapi.services import job_work, jobs
from webapi.services.failures import Failure, overtime, process_end
from webapi.settings import JobLimits, Settings
from webapi.store import open_store

LOGGER: Final = logging.getLogger("packwear")
_LOOK_EVERY_S: Final = 0.5
"""How soon a cancelled job ends; one look is a seek by primary key."""
_WAS_ENDED: Final = frozenset({255, -signal.SIGTERM, -signal.SIGINT})
"""Exit codes of a process that was ended from outside together with its worker: the job is taken up by the next."""


def run(settings: Settings, factory: sessionmaker[Session], key: str) -> bool:
    """Claim a job, have a process do it, and end it where the process does not.

    Args:
        settings: With database, store and limits.
        factory: Makes sessions.
        key: The job's id.

    Returns:
        True where the job has ended here.
    """
    with factory() as session:
        attempt = jobs.claim(session, key, settings.stale_job_s)
    if attempt is None:
        return False
    process = _processes().Process(target=_do, args=(settings, key, attempt), name="packwear-job", daemon=True)
    process.start()
    try:
        failure = _watch(process, settings, factory, key, attempt)
    finally:
        process.kill()
        process.join()
    with factory() as session:
        if failure is None:
            return not jobs.is_held(session, key, attempt)
        # Where the process ended its job in order, there is nothing left to hold.
        return jobs.fail(session, key, attempt, failure.message, failure.faults, retryable=failure.is_retryable)


def end_with_parent() -> None:
    """End this process when the one that started it does; a job in hand is taken up by the next worker."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, name="parent", daemon=True).start()


def _processes() -> Any:
    """What starts processes, in the way this system knows best."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    return context


def _watch(
    process: BaseProcess, settings: Settings, factory: sessionmaker[Session], key: str, attempt: int
) -> Failure | None:
    """Wait for the end of the process, or of its right to go on; answers how the job failed where it may have."""
    begun = noted = time.monotonic()
    while True:
        process.join(_LOOK_EVERY_S)
        if process.exitcode is not None:
            break
        instant = time.monotonic()
        if instant - begun > settings.job_s:
            return overtime(settings.job_limits)
        # A busy database must not end work that is well under way; the next look may pass.
        with suppress(OperationalError), factory() as session:
            if instant - noted > settings.stale_job_s / 4.0:
                noted = instant
                if not jobs.note(session, key, attempt):
                    return None
            elif not jobs.is_held(session, key, attempt):
                return None
    if process.exitcode == 0 or process.exitcode in _WAS_ENDED:
        return None
    LOGGER.error("job process", extra={"facts": {"job": key, "exit_code": process.exitcode}})
    return process_end(process.exitcode, settings.job_limits)


def _do(settings: Settings, key: str, attempt: int) -> None:
    """What the process does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt from the keyboard is the worker's to answer
    end_with_parent()
    start_logging(settings.log_level)
    _limit_memory(settings.job_limits)
    engine = engine_from(settings)
    try:
        job_work.do(session_factory(engine), open_store(settings.store_url), key, attempt, settings.job_limits)
    finally:
        engine.dispose()


def _limit_memory(limits: JobLimits) -> None:
    import pyarrow as pa  # noqa: PLC0415 - in the job's process alone

    # A pool that reserves address space ahead would come to the limit early.
    pa.set_memory_pool(pa.system_memory_pool())
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return  # the limit of time still holds
    resource.setrlimit(resource.RLIMIT_AS, (limits.memory_bytes, limits.memory_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
