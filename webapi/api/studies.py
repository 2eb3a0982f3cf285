"""Checking, submitting and reading studies."""

from typing import Any

from apiflask import APIBlueprint
from flask import current_app, g, request
from werkzeug.exceptions import BadRequest, RequestEntityTooLarge, TooManyRequests, UnsupportedMediaType

from webapi.api.jobs import job_out
from webapi.api.shapes import CheckOut, JobOut, PageQuery, SearchPage, StudyOut, StudyPage, dumped
from webapi.auth import actor, needs
from webapi.context import context, session
from webapi.services import assessments, jobs, studies

blueprint = APIBlueprint("studies", __name__, url_prefix="/api/v1/studies", tag="Studies")


@blueprint.post("/check")
@needs("reader")
@blueprint.output(CheckOut)
@blueprint.doc(
    summary="Check a study", description="Every fault at once, each with its place; nothing is stored or started."
)
def check_study() -> Any:
    """Check without storing."""
    wait = context().checks.wait_s(g.caller)
    if wait:
        raise TooManyRequests(f"Too many checks; wait {wait:.0f} s.", retry_after=int(wait) + 1)
    with session() as opened:
        held = context()
        loaded = studies.check(opened, held.store, study_body(), limits=held.settings.study_limits)
    return {"title": loaded.study.title, "strategies": [one.name for one in loaded.study.strategy]}


@blueprint.post("")
@needs("analyst")
@blueprint.output(JobOut, status_code=202)
@blueprint.doc(
    summary="Submit a study",
    description=(
        "The study as one JSON object, with the id of an uploaded history in place of each `file`. Answers 202 with "
        "the job that assesses it, or 200 with the same job where the same study was submitted before."
    ),
)
def submit_study() -> Any:
    """Queue a study, once."""
    held = context()
    wait = held.submissions.wait_s(g.caller)
    if wait:
        raise TooManyRequests(f"Too many submissions; wait {wait:.0f} s.", retry_after=int(wait) + 1)
    document = study_body()
    with session() as opened:
        loaded = studies.check(opened, held.store, document, limits=held.settings.study_limits)
        job, new = jobs.submit(opened, loaded.study, actor())
        answer = job_out(job)
    return answer, 202 if new else 200, {"Location": f"/api/v1/jobs/{job.id}"}


@blueprint.get("")
@needs("reader")
@blueprint.input(PageQuery, location="query", arg_name="query")
@blueprint.output(StudyPage)
@blueprint.doc(summary="List studies")
def list_studies(query: PageQuery) -> Any:
    """One page of studies."""
    with session() as opened:
        found = studies.listed(opened, cursor=query.cursor, limit=query.limit, sort=query.sort)
        return {"items": [dumped(StudyOut, row) for row in found.items], "next_cursor": found.next_cursor}


@blueprint.get("/<key>/ranking")
@needs("reader")
@blueprint.output(SearchPage)
@blueprint.doc(summary="Read the ranking of a study's newest assessment, as flat rows")
def read_ranking(key: str) -> Any:
    """The newest ranking."""
    with session() as opened:
        studies.get(opened, key)
        newest = assessments.listed(opened, limit=1, study=key).items
        rows = assessments.sources(opened, newest[0].id) if newest else []
        return {"items": [assessments.flat_row(row).model_dump(mode="json") for row in rows], "next_cursor": None}


def study_body() -> dict[str, Any]:
    """The request's study as plain data.

    Raises:
        UnsupportedMediaType: The body is not JSON.
        RequestEntityTooLarge: It is larger than a study may be.
        BadRequest: It is no JSON object.
    """
    most = context().settings.study_bytes
    if not request.is_json:
        raise UnsupportedMediaType("Send the study as JSON (Content-Type: application/json).")
    raw = request.stream.read(most + 1)
    if len(raw) > most:
        raise RequestEntityTooLarge(f"The study is larger than the {most} bytes allowed.")
    found = current_app.json.loads(raw)
    if not isinstance(found, dict):
        raise BadRequest("A study is one JSON object.")
    return found
