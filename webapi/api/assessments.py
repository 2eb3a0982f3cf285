"""Searching, reading and deleting assessments."""

from typing import Any

from apiflask import APIBlueprint
from flask import Response, current_app, request
from flask.sansio.blueprints import BlueprintSetupState
from pydantic_core import to_json

from lifetime.results.document import SCHEMA_VERSION
from webapi.api.bodies import Bodies
from webapi.api.shapes import AssessmentOut, FilterQuery, SearchPage, SearchQuery
from webapi.auth import actor, needs
from webapi.context import session
from webapi.services import assessments, deletion
from webapi.services.instants import span

blueprint = APIBlueprint("assessments", __name__, url_prefix="/api/v1/assessments", tag="Assessments")
_BODIES = "packwear bodies"
_IMMUTABLE = "private, max-age=31536000, immutable"


@blueprint.get("")
@needs("reader")
@blueprint.input(SearchQuery, location="query", arg_name="query")
@blueprint.output(SearchPage)
@blueprint.doc(
    summary="Search assessments",
    description="One row a source and strategy; filter, sort, and follow next_cursor from page to page.",
)
def search_assessments(query: SearchQuery) -> Any:
    """One page of sources."""
    with session() as opened:
        found = assessments.search(opened, filters(query), sort=query.sort, cursor=query.cursor, limit=query.limit)
    return as_json({"items": assessments.shown(found.items), "next_cursor": found.next_cursor})


@blueprint.get("/<key>")
@needs("reader")
@blueprint.output(AssessmentOut)
@blueprint.doc(
    summary="Read one assessment",
    description="The whole result document: trajectories, maps, drive modes. It never changes, so it carries an ETag.",
)
def read_assessment(key: str) -> Any:
    """One assessment."""
    tag = f"{key}-{SCHEMA_VERSION}"
    with session() as opened:
        row = assessments.get(opened, key, with_document=False)

        def make() -> bytes:
            document = assessments.document_of(assessments.get(opened, key))
            body = AssessmentOut(**dict(document), study_id=row.study_id, created_at=row.created_at)
            return body.model_dump_json().encode()

        has_it = request.if_none_match.contains(tag)
        found = b"" if has_it else current_app.extensions[_BODIES].body(tag, make)
    return never_changes(Response(found, mimetype="application/json"), tag)


@blueprint.record_once
def _keep_bodies(state: BlueprintSetupState) -> None:
    state.app.extensions[_BODIES] = Bodies()


def as_json(body: Any) -> Response:
    """An answer that was made from what the database holds, and is sent without another check.

    Args:
        body: Plain data and instants.
    """
    return Response(to_json(body), mimetype="application/json")


@blueprint.delete("/<key>")
@needs("administrator")
@blueprint.output({}, status_code=204)
@blueprint.doc(
    summary="Delete an assessment",
    description="With the job that made it. Its study stays, and can be submitted again.",
)
def delete_assessment(key: str) -> Any:
    """Delete one assessment."""
    with session() as opened:
        deletion.delete_assessment(opened, key, actor())
    return ""


def never_changes(response: Response, tag: str) -> Response:
    """Mark an answer as one that never changes, and answer 304 where the caller has it.

    Args:
        response: The whole answer.
        tag: Stands for its content.
    """
    response.set_etag(tag)
    response.headers["Cache-Control"] = _IMMUTABLE
    response.make_conditional(request)
    return response


def filters(query: FilterQuery) -> assessments.Filters:
    """A query's filters as the service takes them.

    Args:
        query: The query.

    Raises:
        QueryError: A date cannot be read.
    """
    given: dict[str, Any] = {name: getattr(query, name) for name in assessments.Filters.__dataclass_fields__}
    if query.created_from is not None:
        given["created_from"] = span("created_from", query.created_from).first
    if query.created_to is not None:
        given["created_to"] = span("created_to", query.created_to).end
    return assessments.Filters(**given)
