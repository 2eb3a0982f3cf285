"""Pages of studies: the list, one study, and the two ways to make a new one: a form, and the text of a study file."""

from collections.abc import Mapping, Sequence
from typing import Any

from flask import g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from lifetime.errors import Fault, InputError, StudyError
from lifetime.text import printable
from lifetime.toml_text import TomlError, read_toml_text, toml_text
from webapi.auth import actor
from webapi.context import context
from webapi.errors import LimitError
from webapi.models import Job
from webapi.pages.base import blueprint, moment, wait_or_go
from webapi.pages.form_blocks import renumbered, with_history
from webapi.pages.form_faults import form_faults
from webapi.pages.form_page import act, shown_form
from webapi.pages.histories import keep_upload
from webapi.pages.jobs import words_of
from webapi.pages.study_form import fill_form, read_form
from webapi.services import assessments, jobs, studies


@blueprint.get("/studies", endpoint="studies")
def study_list() -> str:
    """Stored studies, the newest first."""
    with context().factory() as session:
        page = studies.listed(session, cursor=request.args.get("cursor"))
    rows = [
        {
            "key": one.id,
            "title": printable(one.title),
            "strategies": len(one.document.get("strategy", ())),
            "submitted": moment(one.created_at),
        }
        for one in page.items
    ]
    return render_template("pages/studies.html", rows=rows, page=page)


@blueprint.get("/studies/<key>", endpoint="study")
def study_page(key: str) -> str:
    """One study with its assessments.

    Args:
        key: Its id.
    """
    with context().factory() as session:
        row = studies.get(session, key)
        found = assessments.listed(session, study=key, limit=50).items
        job = jobs.newest_of_study(session, key)
    return render_template(
        "pages/study.html",
        key=key,
        title=printable(row.title),
        submitted=moment(row.created_at),
        rows=[{"key": one.id, "assessed": moment(one.created_at), "version": one.program_version} for one in found],
        text=toml_text(studies.data(row)),
        job=None if job is None or job.state == "done" else _not_done(job),
    )


def _not_done(job: Job) -> dict[str, str]:
    """What stands on a study's page about a job that has no assessment to show."""
    return {"key": job.id, "words": words_of(job), "why": printable(job.message) if job.state == "failed" else ""}


@blueprint.post("/studies/<key>/assess", endpoint="assess_again")
def assess_again(key: str) -> ResponseReturnValue:
    """Have a stored study assessed with this program version.

    Args:
        key: Its id.
    """
    with context().factory() as session:
        document = studies.data(studies.get(session, key))
    return _on_to(submitted(document))


@blueprint.get("/studies/new", endpoint="new_study")
def new_study() -> str:
    """An empty form, one filled from a stored study (``start``), or one with a history (``use``)."""
    values: dict[str, str] = {}
    remarks: list[str] = []
    if "start" in request.args:
        with context().factory() as session:
            document = studies.data(studies.get(session, request.args["start"]))
        values, left = fill_form(document)
        if left:
            remarks.append(f"The form has no field for {', '.join(left)}; change that study as text to keep them.")
    if "use" in request.args:
        values = with_history(values, request.args["use"])
    return shown_form(values, remarks=remarks)


@blueprint.post("/studies/new", endpoint="change_study")
def change_study() -> ResponseReturnValue:
    """Do what a button of the form says: upload, use, take over, add, remove, or submit."""
    # Boxes of one name come one by one.
    values = renumbered({key: " ".join(parts) for key, parts in request.form.lists() if key != "csrf"})
    action = values.pop("do", "submit")
    if action == "upload":
        try:
            row = keep_upload(request.files.get("file"), {})
        except InputError as error:
            status = 413 if isinstance(error, LimitError) else 422
            return shown_form(values, [Fault("upload", str(error))]), status
        return shown_form(with_history(values, row.id))
    if action != "submit":
        return shown_form(act(values, action))
    read = read_form(values)
    checked: Sequence[Fault] | None = None
    if not read.faults:
        # What the form can tell is complete; what the study check finds is told in the form's own words.
        try:
            return _on_to(submitted(read.document))
        except StudyError as error:
            checked = error.faults
    return shown_form(values, form_faults(read, values, checked)), 422


@blueprint.get("/studies/new/text", endpoint="new_study_text")
def new_study_text() -> str:
    """A field for the text of a study file, filled from a stored study (``start``) where one is named."""
    text = ""
    if "start" in request.args:
        with context().factory() as session:
            text = toml_text(studies.data(studies.get(session, request.args["start"])))
    return render_template("pages/new_study_text.html", text=text, found=[])


@blueprint.post("/studies/new/text", endpoint="submit_text")
def submit_text() -> ResponseReturnValue:
    """Submit a study given as text."""
    text = request.form.get("text", "")
    faults: Sequence[Fault]
    try:
        return _on_to(submitted(read_toml_text(text)))
    except TomlError as error:
        faults = [Fault("text", f"is not valid TOML: {error}.")]
    except StudyError as error:
        faults = error.faults
    return render_template("pages/new_study_text.html", text=text, found=faults), 422


def submitted(document: Mapping[str, Any]) -> Job:
    """Check a study and have it assessed.

    Args:
        document: The study as plain data, histories by id.

    Raises:
        StudyError: With every fault found.
    """
    held = context()
    wait_or_go(held.submissions.wait_s(g.caller))
    with held.factory() as session:
        loaded = studies.check(session, held.store, document, limits=held.settings.study_limits)
        return jobs.submit(session, loaded.study, actor())[0]


def _on_to(job: Job) -> ResponseReturnValue:
    """To the ranking where the work was done before, otherwise to the page that follows it."""
    if job.state == "done" and job.assessment_id is not None:
        return redirect(url_for("pages.assessment", key=job.assessment_id))
    return redirect(url_for("pages.job", key=job.id))
