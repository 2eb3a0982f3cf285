"""Pages of histories: the list, uploading, and one history with its zoomable picture."""

import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from flask import g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import FileStorage

from lifetime.errors import Fault, HistoryError, InputError
from lifetime.history.mapping.study_entry import study_entry
from lifetime.text import printable
from webapi.auth import actor
from webapi.context import context
from webapi.errors import LimitError
from webapi.models import History
from webapi.pages.base import asked_number, blueprint, moment, wait_or_go
from webapi.pages.traces import first_choice, number_names, trace
from webapi.services import deletion, histories

PREVIEW_ROWS = 8
_MOST_COLUMNS_SHOWN = 60
_OTHERS_SHOWN = 12


@blueprint.get("/histories", endpoint="histories")
def history_list() -> str:
    """Stored histories, and a form to upload one."""
    return list_page()


@blueprint.post("/histories", endpoint="upload")
def upload() -> ResponseReturnValue:
    """Take an uploaded history."""
    try:
        row = keep_upload(request.files.get("file"), request.form)
    except InputError as error:
        return list_page([Fault("Upload", str(error))]), 413 if isinstance(error, LimitError) else 422
    return redirect(url_for("pages.history", key=row.id))


@blueprint.get("/histories/<key>", endpoint="history")
def history_page(key: str) -> str:
    """One history.

    Args:
        key: Its id.
    """
    held = context()
    with held.factory() as session:
        row = histories.get(session, key)
        preview = histories.preview(session, held.store, key, PREVIEW_ROWS)
    names, chosen = number_names(row.columns), first_choice(row.columns)
    along, shown = chosen or ("", "")
    along, shown = request.args.get("x", along), request.args.get("y", shown)
    drawable = along in names and shown in names
    return render_template(
        "pages/history.html",
        key=key,
        name=printable(row.file_name),
        format=row.format,
        rows=f"{row.rows:,}",
        uploaded=moment(row.created_at),
        columns=[column_text(one) for one in row.columns],
        **report_text(row.report),
        sign=sign_words(row.report),
        others=other_fits(row.columns),
        entry=entry_text(row),
        preview=preview_text(preview),
        names=names,
        x=along,
        y=shown,
        trace=url_for("pages.history_trace", key=key, x=along, y=shown) if drawable else None,
        shown="",
    )


@blueprint.post("/histories/<key>/delete", endpoint="delete_history")
def delete_history(key: str) -> ResponseReturnValue:
    """Delete a history that nothing needs.

    Args:
        key: Its id.
    """
    held = context()
    with held.factory() as session:
        deletion.delete_history(session, held.store, key, actor())
    return redirect(url_for("pages.histories"))


@blueprint.get("/histories/<key>/trace.json", endpoint="history_trace")
def history_trace(key: str) -> ResponseReturnValue:
    """A stretch of a history for the zoomable picture.

    Args:
        key: Its id.
    """
    held = context()
    with held.factory() as session:
        row = histories.get(session, key)
    start, end = (asked_number(name, request.args[name]) if name in request.args else None for name in ("start", "end"))
    return trace(held.store, row, request.args.get("x", ""), request.args.get("y", ""), start, end)


def list_page(faults: Sequence[Fault] = ()) -> str:
    """The list of histories with the upload form.

    Args:
        faults: What went wrong with an upload.
    """
    held = context()
    with held.factory() as session:
        page = histories.listed(session, cursor=request.args.get("cursor"))
    rows = [
        {
            "key": one.id,
            "name": printable(one.file_name),
            "format": one.format,
            "rows": f"{one.rows:,}",
            "columns": len(one.columns),
            "uploaded": moment(one.created_at),
        }
        for one in page.items
    ]
    most = size_words(held.settings.upload_bytes)
    return render_template("pages/histories.html", rows=rows, page=page, found=faults, most_bytes=most)


def keep_upload(sent: FileStorage | None, stated: Mapping[str, str]) -> History:
    """Store a file that came with a form.

    Args:
        sent: The file, or None where the form had none.
        stated: What the form states about the file's layout.

    Raises:
        HistoryError: No file came, or it cannot be read as a history.
        LimitError: It is too large.
        QueryError: What is stated about its layout cannot be used.
        StoreError: It cannot be kept.
    """
    held = context()
    if sent is None or not sent.filename:
        raise HistoryError("no file was chosen.", file="upload", remedy="Choose a file first.")
    wait_or_go(held.uploads.wait_s(g.caller))
    layout = histories.stated_layout(stated)
    with tempfile.TemporaryDirectory(dir=held.store.workspace()) as folder:
        path = Path(folder) / histories.UPLOAD_NAME
        with path.open("wb") as target:
            shutil.copyfileobj(sent.stream, target, 1 << 20)
        with held.factory() as session:
            limits, reading = held.settings.upload_limits, held.settings.reading_limits
            row, _ = histories.add_upload(session, held.store, path, sent.filename, limits, reading, layout, actor())
    return row


def column_text(one: dict[str, Any]) -> dict[str, str]:
    """A column's facts as text.

    Args:
        one: As the history's row holds it.
    """
    return {
        "name": printable(one["name"]),
        "unit": one["unit"] or "",
        "kind": one["kind"],
        "offer": one["could_be"] or "",
        "evidence": one["evidence"] or "",
    }


def report_text(report: dict[str, Any] | None) -> dict[str, Any]:
    """What was found in the file as text; nothing for histories uploaded before there were reports.

    Args:
        report: As the history's row holds it.
    """
    if report is None:
        return {"findings": None, "details": "", "time": ""}
    time = report["time"]
    unit = "" if time is None or time["unit"] is None else f" {time['unit']}"
    return {
        "findings": [
            {
                "severity": one["severity"],
                "text": printable(f"{one['place']}: {one['message']} {one['remedy']}".strip()),
            }
            for one in report["findings"]
        ],
        "details": printable(report["details"]),
        "time": "" if time is None else printable(_time_words(time, unit)),
    }


def _time_words(time: dict[str, Any], unit: str) -> str:
    return f'Time in "{time["column"]}": {time["span"]:g}{unit} long, median step {time["median_step"]:g}{unit}'


def sign_words(report: dict[str, Any] | None) -> str:
    """What voltage and state of charge say about the sign of discharge; empty where they say nothing.

    Args:
        report: As the history's row holds it.
    """
    if report is None or report["sign"] is None:
        return ""
    return printable(report["sign"]["message"])


def other_fits(columns: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    """The columns that fit a role and are not suggested for it, the first twelve, those without an objection first.

    Args:
        columns: As the history's row holds them.
    """
    fits = [(one, fit) for one in columns for fit in one.get("fits", ()) if fit["role"] != one["could_be"]]
    fits.sort(key=lambda pair: pair[1]["objection"] is not None)
    return [
        {
            "role": fit["role"],
            "column": printable(one["name"]),
            "evidence": printable(fit["evidence"] + (f", but {fit['objection']}" if fit["objection"] else "")),
        }
        for one, fit in fits[:_OTHERS_SHOWN]
    ]


def entry_text(row: History) -> str:
    """The suggested study entry that names this history by its id; empty where none is suggested.

    Args:
        row: The history.
    """
    keys = (row.report or {}).get("study_keys")
    return "" if keys is None else study_entry({"file": row.id, **keys})


def preview_text(preview: dict[str, Any]) -> dict[str, Any]:
    """The first rows as text, the first columns where there are very many.

    Args:
        preview: From ``services.histories.preview``.
    """
    names = [printable(one["name"]) for one in preview["columns"]][:_MOST_COLUMNS_SHOWN]
    rows = [[printable(cell)[:40] for cell in row[:_MOST_COLUMNS_SHOWN]] for row in preview["rows"]]
    return {"names": names, "rows": rows, "left_out": max(0, len(preview["columns"]) - _MOST_COLUMNS_SHOWN)}


def size_words(size: int) -> str:
    """A number of bytes for people.

    Args:
        size: Number of bytes.
    """
    return f"{size / 1e6:,.0f} MB" if size >= 1_000_000 else f"{size:,} bytes"
