"""Jobs: the row says what is true, and workers look at the rows. Running a job twice is harmless.

A worker claims a job by raising its attempt number and keeps it by signs of life; whoever holds an older number has
lost it and cannot write. A job ends in one transaction that inserts the assessment and marks the row, so no reader ever
sees half a result.
"""

import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import or_, select, update
from sqlalchemy.orm import Session

from lifetime.errors import Fault
from lifetime.results.records import Assessment
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Study
from lifetime.version import program_version
from webapi import models
from webapi.database import now, write
from webapi.errors import ConflictError
from webapi.models import Job
from webapi.services import audit, recording, studies
from webapi.services.audit import LOCAL, Actor
from webapi.services.insert_once import insert_once
from webapi.services.keys import stored
from webapi.types import utc_now

MOST_ATTEMPTS: Final = 10
"""A job that ends its worker this often is given up, so that it cannot stop the others for ever."""


def submit(session: Session, study: Study, by: Actor = LOCAL) -> tuple[Job, bool]:
    """Ask for a study to be assessed; the same study and program version is the same job.

    Args:
        session: Where.
        study: Checked, with histories by id.
        by: Who asks.

    Returns:
        The job, and whether this call queued it.
    """
    with write(session):
        row = studies.keep(session, study)
        version = program_version()
        job = session.scalars(select(Job).where(Job.study_id == row.id, Job.program_version == version)).first()
        if job is None:
            made = Job(id=secrets.token_hex(16), study_id=row.id, program_version=version)
            job, new = insert_once(session, made, (Job.study_id, Job.program_version))
        else:
            new = job.state == "cancelled" or (job.state == "failed" and job.retryable)
            if new:
                _queue_again(job)
        if new:
            audit.note(session, by, "submitted", "study", row.id, row.title)
        return job, new


def cancel(session: Session, key: str, by: Actor = LOCAL) -> Job:
    """Stop a job that is queued or running; one that was cancelled stays so.

    Whoever runs it has lost it from then on; the worker looks a few times a second and ends the work.

    Args:
        session: Where.
        key: The job's id.
        by: Who cancels.

    Raises:
        NotFoundError: There is none.
        ConflictError: It has ended already.
    """
    with write(session):
        stored(session, Job, "job", key)
        job = session.get_one(Job, key, populate_existing=True, with_for_update=True)
        if job.state in ("done", "failed"):
            raise ConflictError(f"The job has ended already ({job.state}); there is nothing to cancel.")
        if job.state != "cancelled":
            job.state, job.message, job.finished_at = "cancelled", "", now(session)
            audit.note(session, by, "cancelled", "job", key, session.get_one(models.Study, job.study_id).title)
        return job


def _queue_again(job: Job) -> None:
    """Back to the queue; attempt numbers go on, so that whoever held the job before cannot write."""
    job.state, job.progress, job.message, job.faults = "queued", 0.0, "", []
    job.retryable, job.started_at, job.finished_at = False, None, None
    job.submitted_attempt = job.attempt


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
        The attempt number that holds it, or None where it has ended, is in other hands, or of another version.
    """
    with write(session):
        instant = now(session)
        job = session.get(Job, key, populate_existing=True, with_for_update=True)
        if job is None or not _may_be_claimed(job, instant, stale_s):
            return None
        tries = job.attempt - job.submitted_attempt
        if tries >= MOST_ATTEMPTS:
            job.state, job.finished_at, job.retryable = "failed", instant, True
            job.message = f"The work ended its worker {tries} times. Look at the server's log, then submit again."
            return None
        job.attempt += 1
        job.state, job.heartbeat_at, job.progress, job.message = "running", instant, 0.0, "reading"
        job.started_at = job.started_at or instant
        return job.attempt


def _may_be_claimed(job: Job, instant: datetime, stale_s: float) -> bool:
    if job.program_version != program_version() or job.state not in ("queued", "running"):
        return False
    silence = abs(instant - (job.heartbeat_at or instant))
    return job.state == "queued" or silence >= timedelta(seconds=stale_s)


def is_held(session: Session, key: str, attempt: int) -> bool:
    """Whether an attempt still holds its job; no longer where it ended, was cancelled, or another took it.

    Args:
        session: Where.
        key: The job's id.
        attempt: The number that held it.
    """
    held = select(Job.id).where(Job.id == key, Job.attempt == attempt, Job.state == "running")
    return session.execute(held).first() is not None


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


def _update_held(session: Session, key: str, attempt: int, values: Mapping[str, Any]) -> bool:
    """Change a job's row where this attempt still holds it; part of the caller's transaction."""
    held = (Job.id == key, Job.attempt == attempt, Job.state == "running")
    result = session.execute(update(Job).where(*held).values(**values))
    return bool(getattr(result, "rowcount", 0))
