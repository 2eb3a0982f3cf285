"""Following and cancelling a job."""

from typing import Any

from apiflask import APIBlueprint

from webapi.api.shapes import JobOut, dumped
from webapi.auth import actor, needs
from webapi.context import session
from webapi.models import Job
from webapi.services import jobs

blueprint = APIBlueprint("jobs", __name__, url_prefix="/api/v1/jobs", tag="Jobs")


@blueprint.get("/<key>")
@needs("reader")
@blueprint.output(JobOut)
@blueprint.doc(summary="See how far a job is")
def read_job(key: str) -> Any:
    """One job."""
    with session() as opened:
        return job_out(jobs.get(opened, key))


@blueprint.post("/<key>/cancel")
@needs("analyst")
@blueprint.output(JobOut)
@blueprint.doc(
    summary="Cancel a job",
    description=(
        "Stops a job that is queued or running, and answers with it; a job that was cancelled stays so. 409 where it "
        "has ended already. Submitting its study again queues it again."
    ),
)
def cancel_job(key: str) -> Any:
    """Cancel one job."""
    with session() as opened:
        return job_out(jobs.cancel(opened, key, actor()))


def job_out(job: Job) -> dict[str, Any]:
    """A job in the answer's shape.

    Args:
        job: The row.
    """
    return dumped(JobOut, job)
