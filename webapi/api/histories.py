"""Uploading, reading and deleting histories."""

import tempfile
from contextlib import closing
from pathlib import Path
from typing import IO, Any

from apiflask import APIBlueprint
from flask import g, request
from werkzeug.exceptions import BadRequest, RequestEntityTooLarge, TooManyRequests

from webapi.api.shapes import HistoryOut, HistoryPage, PageQuery, PreviewOut, dumped
from webapi.auth import actor, needs
from webapi.context import context, session
from webapi.services import deletion, histories

blueprint = APIBlueprint("histories", __name__, url_prefix="/api/v1/histories", tag="Histories")


@blueprint.post("")
@needs("analyst")
@blueprint.doc(
    summary="Upload a history",
    description=(
        "Any format that the command line reads, as a multipart form with the field `file`, or as the raw body with "
        "the name in `?name=`. The format is found from the content. What is not found rightly is stated in the query: "
        "`sheet`, `header_row`, `decimal`. The same content and statements again answer 200 with the same id."
    ),
)
def upload() -> Any:
    """Stream the upload to disk, convert and store it."""
    held = context()
    wait = held.uploads.wait_s(g.caller)
    if wait:
        raise TooManyRequests(f"Too many uploads; wait {wait:.0f} s.", retry_after=int(wait) + 1)
    most = held.settings.upload_bytes
    layout = histories.stated_layout(request.args)
    with tempfile.TemporaryDirectory(dir=held.store.workspace()) as folder:
        target = Path(folder) / histories.UPLOAD_NAME
        if request.mimetype == "multipart/form-data":
            file = request.files.get("file")
            if file is None:
                raise BadRequest('The form has no field "file". Send the history in it.')
            name = file.filename or ""
            with closing(file):
                _copy(file.stream, target, most)
        else:
            name = request.args.get("name", "")
            _copy(request.stream, target, most)
        with session() as opened:
            limits, reading = held.settings.upload_limits, held.settings.reading_limits
            row, new = histories.add_upload(opened, held.store, target, name, limits, reading, layout, actor())
    headers = {"Location": f"/api/v1/histories/{row.id}"}
    return dumped(HistoryOut, row), 201 if new else 200, headers


@blueprint.get("")
@needs("reader")
@blueprint.input(PageQuery, location="query", arg_name="query")
@blueprint.output(HistoryPage)
@blueprint.doc(summary="List histories")
def list_histories(query: PageQuery) -> Any:
    """One page of histories."""
    with session() as opened:
        found = histories.listed(opened, cursor=query.cursor, limit=query.limit, sort=query.sort)
        return {"items": [dumped(HistoryOut, row) for row in found.items], "next_cursor": found.next_cursor}


@blueprint.get("/<key>")
@needs("reader")
@blueprint.output(HistoryOut)
@blueprint.doc(summary="Read one history's description")
def read_history(key: str) -> Any:
    """One history."""
    with session() as opened:
        return dumped(HistoryOut, histories.get(opened, key))


@blueprint.delete("/<key>")
@needs("administrator")
@blueprint.output({}, status_code=204)
@blueprint.doc(
    summary="Delete a history",
    description=(
        "409 where an assessment was made from it or a job is about to read it; the answer says which. Uploading the "
        "same content again brings it back under the same id."
    ),
)
def delete_history(key: str) -> Any:
    """Delete one history with its file."""
    with session() as opened:
        deletion.delete_history(opened, context().store, key, actor())
    return ""


@blueprint.get("/<key>/preview")
@needs("reader")
@blueprint.output(PreviewOut)
@blueprint.doc(summary="See a history's first rows and what its columns could be")
def preview_history(key: str) -> Any:
    """The first rows."""
    with session() as opened:
        return histories.preview(opened, context().store, key)


def _copy(source: IO[bytes], target: Path, most: int) -> None:
    """Copy to disk in pieces, and stop at the limit whatever the request's length said."""
    left = most
    with target.open("wb") as file:
        while piece := source.read(1 << 20):
            left -= len(piece)
            if left < 0:
                raise RequestEntityTooLarge(f"The upload is larger than the {most} bytes allowed.")
            file.write(piece)
