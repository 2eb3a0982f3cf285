"""Shapes of the API's answers and queries, for checking and for its description."""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from lifetime.results.document import ResultDocument
from lifetime.results.parameters import ProvenanceView
from lifetime.results.source import Criterion
from lifetime.results.view import SourceKind
from webapi.models import AuditAction, AuditSubject, JobState
from webapi.services.assessments import StoredRow

Cursor = Annotated[str | None, Field(description="next_cursor of the page before", max_length=2000)]
Sort = Literal["life", "-life", "cost", "-cost", "created_at", "-created_at", "strategy", "-strategy"]
Limit = Annotated[int, Field(ge=1, le=500, description="rows on the page")]


class Query(BaseModel):
    """Base of every query: unknown parameters are errors."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class PageQuery(Query):
    """One page of a list, the newest first unless said otherwise."""

    cursor: Cursor = None
    limit: Limit = 50
    sort: Literal["created_at", "-created_at"] = "-created_at"


_INSTANT = "year, month or day (UTC), or instant with its zone: 2026, 2026-01, 2026-01-31, 2026-01-31T00:00:00+01:00"


class FilterQuery(Query):
    """What to look for among sources under strategies."""

    kind: SourceKind | None = None
    cell: Annotated[str | None, Field(max_length=200)] = None
    strategy: Annotated[str | None, Field(max_length=120, description="beginning of the name, any case")] = None
    end_of_life_criterion: Criterion | None = None
    life_min_years: float | None = None
    life_max_years: float | None = None
    cost_min: float | None = None
    cost_max: float | None = None
    created_from: Annotated[str | None, Field(max_length=60, description=f"first {_INSTANT}")] = None
    created_to: Annotated[
        str | None, Field(max_length=60, description=f"last {_INSTANT}; an instant itself is not included")
    ] = None


class SearchQuery(FilterQuery):
    """Filters, order and page."""

    cursor: Cursor = None
    limit: Limit = 50
    sort: Sort = "-created_at"


class TableQuery(FilterQuery):
    """Filters of the flat table."""

    format: Literal["json", "csv"] | None = None
    limit: Annotated[int, Field(ge=1, le=10_000)] = 1_000


class Fit(BaseModel):
    """A role that a column fits by its name, unit or numbers, and what speaks for and against it."""

    role: str
    evidence: str
    objection: str | None


class Column(BaseModel):
    """One column of an uploaded history, and what it could be; offered, never applied."""

    name: str
    unit: str | None
    kind: Literal["numbers", "text"]
    could_be: str | None
    evidence: str | None
    fits: list[Fit] = []


class HistoryOut(BaseModel):
    """An uploaded history."""

    id: str
    file_name: str
    format: str
    bytes: int
    rows: int
    columns: list[Column]
    report: dict[str, Any] | None
    created_at: datetime


class HistoryPage(BaseModel):
    """One page of histories."""

    items: list[HistoryOut]
    next_cursor: str | None


class PreviewOut(BaseModel):
    """The first rows of a history as text, with its columns."""

    columns: list[Column]
    rows: list[list[str]]


class SetOut(BaseModel):
    """One shipped parameter set in a list."""

    id: str
    kind: str
    title: str
    chemistry: str
    parameter_grade: str


class SetFull(SetOut):
    """One shipped parameter set with every number's unit, source and grade."""

    sha256: str
    caveats: tuple[str, ...]
    references: tuple[str, ...]
    values: tuple[ProvenanceView, ...]


class SetList(BaseModel):
    """All shipped parameter sets."""

    items: list[SetOut]


class Live(BaseModel):
    """The process answers."""

    status: Literal["live"]


class Ready(BaseModel):
    """The process can work."""

    status: Literal["ready"]
    database_revision: str


class FaultOut(BaseModel):
    """One fault with its place."""

    place: str
    message: str


class Problem(BaseModel):
    """Problem details (RFC 9457): the one body of every error."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    request_id: str
    faults: list[FaultOut]


class CheckOut(BaseModel):
    """A study without faults."""

    title: str
    strategies: list[str]


class JobOut(BaseModel):
    """A job and how far it is."""

    id: str
    study_id: str
    state: JobState
    progress: Annotated[float, Field(ge=0.0, le=1.0)]
    message: str
    faults: list[FaultOut]
    retryable: bool
    assessment_id: str | None
    created_at: datetime
    started_at: datetime | None
    finished_at: datetime | None


class AuditOut(BaseModel):
    """One line of the audit trail: who did what to what, and when."""

    id: int
    created_at: datetime
    who: Annotated[str, Field(description="the token's name, or local")]
    token_id: str | None
    action: AuditAction
    subject: AuditSubject
    subject_id: str
    title: Annotated[str, Field(description="what people call the subject: a file, a study, a token")]


class AuditPage(BaseModel):
    """One page of the audit trail."""

    items: list[AuditOut]
    next_cursor: str | None


class StudyOut(BaseModel):
    """A study on record."""

    id: str
    title: str
    created_at: datetime


class StudyPage(BaseModel):
    """One page of studies."""

    items: list[StudyOut]
    next_cursor: str | None


class SearchPage(BaseModel):
    """One page of sources."""

    items: list[StoredRow]
    next_cursor: str | None


class AssessmentOut(ResultDocument):
    """A stored assessment: the result document, when it was stored, and the study it belongs to."""

    study_id: str
    created_at: datetime


def dumped(model: type[BaseModel], row: Any) -> dict[str, Any]:
    """A row of the database in an answer's shape.

    Args:
        model: The shape.
        row: With an attribute for each field.
    """
    values = {name: getattr(row, name) for name in model.model_fields}
    return model.model_validate(values).model_dump(mode="json")
