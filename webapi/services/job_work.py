"""The work of a job: read its study, assess it, and end the job with the result or with why there is none."""

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Final

from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session, sessionmaker

from lifetime.assessment.run import assess
from webapi import models
from webapi.services import jobs, studies
from webapi.services.failures import failure_of, storable
from webapi.settings import JobLimits
from webapi.store import HistoryStore

LOGGER: Final = logging.getLogger("packwear")


def run(factory: sessionmaker[Session], store: HistoryStore, key: str, stale_s: float) -> bool:
    """Claim a job, do it in this process, and end it.

    Args:
        factory: Makes sessions.
        store: Where the histories' numbers are.
        key: The job's id.
        stale_s: Silence after which a running job counts as abandoned [s].

    Returns:
        True where this call ended the job.
    """
    with factory() as session:
        attempt = jobs.claim(session, key, stale_s)
    if attempt is None:
        return False
    with _signs_of_life(factory, key, attempt, stale_s / 4.0):
        return do(factory, store, key, attempt)


def do(
    factory: sessionmaker[Session], store: HistoryStore, key: str, attempt: int, limits: JobLimits | None = None
) -> bool:
    """Do a job that an attempt holds, and end it.

    Args:
        factory: Makes sessions.
        store: Where the histories' numbers are.
        key: The job's id.
        attempt: The number that holds it.
        limits: What this process may take, for the message where that was not enough.

    Returns:
        True where this call ended the job.
    """
    try:
        with factory() as session:
            document = studies.data(session.get_one(models.Study, jobs.get(session, key).study_id))
            loaded = studies.check(session, store, document)
        result = assess(loaded, _reporter(factory, key, attempt, len(loaded.study.strategy)))
        with factory() as session:
            return jobs.finish(session, key, attempt, loaded.study, loaded, result)
    except Exception as error:
        # Whatever it is, it ends this job and not its worker.
        failure = failure_of(error, limits)
        if failure.is_unforeseen:
            LOGGER.exception("job failed", extra={"facts": {"job": key}})
    with factory() as session:
        return jobs.fail(session, key, attempt, failure.message, failure.faults, retryable=failure.is_retryable)


def _reporter(factory: sessionmaker[Session], key: str, attempt: int, total: int) -> Callable[[str], None]:
    done = 0

    def report(name: str) -> None:
        nonlocal done
        done += 1
        # A busy database must not end work that is well under way; the next note may pass.
        with suppress(OperationalError), factory() as session:
            jobs.note(session, key, attempt, progress=done / (total + 1), message=storable(f"assessed {name}"[:200]))

    return report


@contextmanager
def _signs_of_life(factory: sessionmaker[Session], key: str, attempt: int, every_s: float) -> Iterator[None]:
    """Notes that the work is alive from a thread of its own, for one strategy may take longer than the limit."""
    ended = threading.Event()

    def beat() -> None:
        while not ended.wait(every_s):
            try:
                with factory() as session:
                    if not jobs.note(session, key, attempt):
                        return
            except OperationalError:
                continue  # a busy database; the next beat may pass

    thread = threading.Thread(target=beat, name=f"signs-of-life-{key[:8]}", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()
