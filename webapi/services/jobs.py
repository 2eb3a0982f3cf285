"""Jobs: the row says what is true, and workers look at the rows. Running a job twice is harmless.

A worker claims a job by raising its attempt number and keeps it by signs of life; whoever holds an older number has
lost it and cannot write. A job ends in one transaction that inserts the assessment and marks the row, so no reader ever
sees half a result.
"""

import logging
import secrets
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import timedelta
from typing import Any, Final

from sqlalchemy import or_, select, update
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session, sessionmaker

from lifetime.assessment.run import assess
from lifetime.errors import Fault
from lifetime.results.records import Assessment
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Study
from lifetime.version import program_version
from webapi import models
from webapi.database import now, write
from webapi.models import Job
from webapi.services import recording, studies
from webapi.services.failures import failure_of, storable
from webapi.services.insert_once import insert_once
from webapi.services.keys import stored
from webapi.store import HistoryStore
from webapi.types import utc_now

LOGGER: Final = logging.getLogger("packwear")
MOST_ATTEMPTS: Final = 10
"""A job that ends its worker this often is given up, so that it cannot stop the others for ever."""


def submit(session: Session, study: Study) -> tuple[Job, bool]:
    """Ask for a study to be assessed; the same study and program version is the same job.

    Args:
        session: Where.
        study: Checked, with histories by id.

    Returns:
        The job, and whether this call queued it.
    """
    with write(session):
        row = studies.keep(session, study)
        version = program_version()
        held = session.scalars(select(Job).where(Job.study_id == row.id, Job.program_version == version)).first()
        if held is None:
            made = Job(id=secrets.token_hex(16), study_id=row.id, program_version=version)
            return insert_once(session, made, (Job.study_id, Job.program_version))
        if held.state == "failed" and held.retryable:
            held.state, held.progress, held.message, held.faults = "queued", 0.0, "", []
            held.retryable, held.attempt, held.finished_at = False, 0, None
            return held, True
        return held, False


def get(session: Session, key: str) -> Job:
    """One job as it is now.

    Args:
        session: Where.
        key: Its id.

    Raises:
        NotFoundError: There is none.
    """
    return stored(session, Job, "job", key, fresh=True)


def newest_of_study(session: Session, key: str) -> Job | None:
    """The newest job of a study, or None where none was asked for.

    Args:
        session: Where.
        key: The study's id.
    """
    query = select(Job).where(Job.study_id == key).order_by(Job.created_at.desc(), Job.id.desc()).limit(1)
    return session.scalars(query).first()


def waiting(session: Session, stale_s: float) -> Sequence[str]:
    """Ids of this program version's jobs to run: queued, or running without a sign of life, the oldest first.

    Args:
        session: Where.
        stale_s: Silence after which a running job counts as abandoned [s].
    """
    instant, silence = now(session), timedelta(seconds=stale_s)
    # A sign of life from the future is none: the clock was set back since.
    silent = or_(Job.heartbeat_at < instant - silence, Job.heartbeat_at > instant + silence)
    to_do = or_(Job.state == "queued", (Job.state == "running") & silent)
    query = select(Job.id).where(to_do, Job.program_version == program_version())
    return session.scalars(query.order_by(Job.created_at, Job.id)).all()


def claim(session: Session, key: str, stale_s: float) -> int | None:
    """Take a job if it may be taken.

    Args:
        session: Where.
        key: Its id.
        stale_s: Silence after which a running job counts as abandoned [s].

    Returns:
        The attempt number that holds it, or None where it is done, failed, in other hands, or of another version.
    """
    with write(session):
        instant = now(session)
        job = session.get(Job, key, populate_existing=True, with_for_update=True)
        if job is None or job.state in ("done", "failed") or job.program_version != program_version():
            return None
        silence = abs(instant - (job.heartbeat_at or instant))
        if job.state == "running" and silence < timedelta(seconds=stale_s):
            return None
        if job.attempt >= MOST_ATTEMPTS:
            job.state, job.finished_at, job.retryable = "failed", instant, True
            job.message = f"The work ended its worker {job.attempt} times. Look at the server's log, then submit again."
            return None
        job.attempt += 1
        job.state, job.heartbeat_at, job.progress, job.message = "running", instant, 0.0, "reading"
        job.started_at = job.started_at or instant
        return job.attempt


def note(session: Session, key: str, attempt: int, progress: float | None = None, message: str | None = None) -> bool:
    """Give a sign of life, and say how far the work is.

    Args:
        session: Where.
        key: The job's id.
        attempt: The number that holds it.
        progress: 0..1, or None to leave it.
        message: What is being done, or None to leave it.

    Returns:
        False where the job is no longer held by this attempt.
    """
    values: dict[str, Any] = {}
    if progress is not None:
        values["progress"] = progress
    if message is not None:
        values["message"] = message
    with write(session):
        return _update_held(session, key, attempt, {"heartbeat_at": now(session), **values})


def finish(session: Session, key: str, attempt: int, study: Study, loaded: LoadedStudy, result: Assessment) -> bool:
    """Store the result and end the job, in one transaction.

    Args:
        session: Where.
        key: The job's id.
        attempt: The number that holds it.
        study: The study with histories by id.
        loaded: The same study as assessed.
        result: The result.

    Returns:
        False where the job is no longer held by this attempt; nothing is written then.
    """
    with write(session):
        job = session.get(Job, key, populate_existing=True, with_for_update=True)
        if job is None or job.attempt != attempt or job.state != "running":
            return False
        row, _ = recording.keep(session, study, loaded, result)
        job.state, job.progress, job.message = "done", 1.0, ""
        job.assessment_id, job.finished_at = row.id, utc_now()
        return True


def fail(session: Session, key: str, attempt: int, message: str, faults: Sequence[Fault], *, retryable: bool) -> bool:
    """End a job without a result.

    Args:
        session: Where.
        key: The job's id.
        attempt: The number that holds it.
        message: Why.
        faults: What is wrong with the study, if that is it.
        retryable: True where the fault lay with the machine.
    """
    values = {
        "state": "failed",
        "message": message,
        "faults": [{"place": one.place, "message": one.message} for one in faults],
        "retryable": retryable,
        "finished_at": utc_now(),
    }
    with write(session):
        return _update_held(session, key, attempt, values)


def run(factory: sessionmaker[Session], store: HistoryStore, key: str, stale_s: float) -> bool:
    """Claim a job, do it, and end it.

    Args:
        factory: Makes sessions.
        store: Where the histories' numbers are.
        key: The job's id.
        stale_s: Silence after which a running job counts as abandoned [s].

    Returns:
        True where this call ended the job.
    """
    with factory() as session:
        attempt = claim(session, key, stale_s)
    if attempt is None:
        return False
    with _signs_of_life(factory, key, attempt, stale_s / 4.0):
        try:
            with factory() as session:
                document = studies.data(session.get_one(models.Study, get(session, key).study_id))
                loaded = studies.check(session, store, document)
            result = assess(loaded, _reporter(factory, key, attempt, len(loaded.study.strategy)))
            with factory() as session:
                return finish(session, key, attempt, loaded.study, loaded, result)
        except Exception as error:
            # Whatever it is, it ends this job and not its worker.
            failure = failure_of(error)
            if failure.is_unforeseen:
                LOGGER.exception("job failed", extra={"facts": {"job": key}})
    with factory() as session:
        return fail(session, key, attempt, failure.message, failure.faults, retryable=failure.is_retryable)


def _update_held(session: Session, key: str, attempt: int, values: Mapping[str, Any]) -> bool:
    """Change a job's row where this attempt still holds it; part of the caller's transaction."""
    held = (Job.id == key, Job.attempt == attempt, Job.state == "running")
    result = session.execute(update(Job).where(*held).values(**values))
    return bool(getattr(result, "rowcount", 0))


def _reporter(factory: sessionmaker[Session], key: str, attempt: int, total: int) -> Callable[[str], None]:
    done = 0

    def report(name: str) -> None:
        nonlocal done
        done += 1
        # A busy database must not end work that is well under way; the next note may pass.
        with suppress(OperationalError), factory() as session:
            note(session, key, attempt, progress=done / (total + 1), message=storable(f"assessed {name}"[:200]))

    return report


@contextmanager
def _signs_of_life(factory: sessionmaker[Session], key: str, attempt: int, every_s: float) -> Iterator[None]:
    """Notes that the work is alive from a thread of its own, for one strategy may take longer than the limit."""
    ended = threading.Event()

    def beat() -> None:
        while not ended.wait(every_s):
            try:
                with factory() as session:
                    if not note(session, key, attempt):
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
