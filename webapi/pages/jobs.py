"""The page of a job: how far it is, without reloading, and where it leads."""

from typing import Any, Final

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from lifetime.errors import Fault
from lifetime.text import printable
from webapi.auth import actor
from webapi.context import context
from webapi.models import Job, Study
from webapi.pages.base import blueprint
from webapi.services import jobs, studies

_ENDED: Final = frozenset({"done", "failed", "cancelled"})


@blueprint.get("/jobs/<key>", endpoint="job")
def job_page(key: str) -> str:
    """One job.

    Args:
        key: Its id.
    """
    job, study = _found(key)
    return render_template(
        "pages/job.html",
        key=key,
        title=printable(study.title),
        study_id=study.id,
        words=words_of(job),
        progress=f"{job.progress:.3f}",
        finished=job.state in _ENDED,
        state=job.state,
        message=printable(job.message),
        retryable=job.retryable,
        found=[Fault(printable(one["place"]), printable(one["message"])) for one in job.faults],
        assessment_id=job.assessment_id,
    )


@blueprint.get("/jobs/<key>/state.json", endpoint="job_state")
def job_state(key: str) -> ResponseReturnValue:
    """How far a job is, for the page that follows it.

    Args:
        key: Its id.
    """
    job, _ = _found(key)
    done = job.state == "done" and job.assessment_id is not None
    state: dict[str, Any] = {
        "progress": job.progress,
        "words": words_of(job),
        "finished": job.state in _ENDED,
        "next": url_for("pages.assessment", key=job.assessment_id) if done else url_for("pages.job", key=key),
    }
    return state


@blueprint.post("/jobs/<key>/cancel", endpoint="cancel_job")
def cancel_job(key: str) -> ResponseReturnValue:
    """Cancel a job, and show it.

    Args:
        key: Its id.
    """
    with context().factory() as session:
        jobs.cancel(session, key, actor())
    return redirect(url_for("pages.job", key=key))


def words_of(job: Job) -> str:
    """A job's state in words.

    Args:
        job: The job.
    """
    if job.state == "queued":
        return "Waiting for a worker."
    if job.state == "running":
        return f"{100.0 * job.progress:.0f} % done{': ' + printable(job.message) if job.message else ''}."
    return f"{job.state.capitalize()}."


def _found(key: str) -> tuple[Job, Study]:
    with context().factory() as session:
        job = jobs.get(session, key)
        return job, studies.get(session, job.study_id)
