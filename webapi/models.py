"""Tables of the service, as plain SQLAlchemy models that web, worker, command line and migrations share.

histories                       uploaded time series; the numbers lie in the store, under the content's hash
parameter_sets                  cells and climates as they were when an assessment used them
studies ── jobs                 one job a study and program version
   └────── assessments          immutable; the whole result as one document
              └── assessment_sources    one row a source and strategy, flat, for searching and for cost models
study_histories                 which stored histories a study names
tokens                          who may; secrets are kept hashed
audit                           who changed what, and when
unremoved_files                 stored files whose history was deleted and which are still to be removed
"""

from datetime import datetime
from typing import Any, ClassVar, Final, Literal

from sqlalchemy import BigInteger, ForeignKey, Index, Integer, MetaData, String, Text, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

from webapi.types import FiniteFloat, StrictJson, UtcDateTime, utc_now

NAMING: Final = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

JobState = Literal["queued", "running", "done", "failed", "cancelled"]
Role = Literal["reader", "analyst", "administrator"]
ROLES: Final[tuple[Role, ...]] = ("reader", "analyst", "administrator")
"""Each may do all that the ones before it may."""
AuditAction = Literal["uploaded", "submitted", "cancelled", "deleted", "created", "revoked"]
AuditSubject = Literal["history", "study", "job", "assessment", "token"]

LIFE_BEYOND_SEARCH_YEARS: Final = 1e6
"""Sort key of a life beyond the search limit: longer than any life that was found."""
COST_WITHOUT_RESULT: Final = 1e300
"""Sort key of a strategy without a cost: higher than any."""

_HASH = String(64)
_ID = String(32)


class Base(DeclarativeBase):
    """Every table; constraints are named, because migrations must be able to name them."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        datetime: UtcDateTime,
        float: FiniteFloat,
        str: Text,
        dict[str, Any]: StrictJson,
        list[dict[str, Any]]: StrictJson,
    }


class History(Base):
    """An uploaded history.

    ``id`` is the SHA-256 of the file as uploaded; ``columns`` lists name, unit, kind and what the column could be;
    ``report`` holds what is wrong with it, None for those uploaded before there were reports.
    """

    __tablename__ = "histories"
    __table_args__ = (Index(None, "created_at", "id"),)

    id: Mapped[str] = mapped_column(_HASH, primary_key=True)
    file_name: Mapped[str]
    format: Mapped[str]
    bytes: Mapped[int] = mapped_column(BigInteger)
    rows: Mapped[int] = mapped_column(BigInteger)
    columns: Mapped[list[dict[str, Any]]]
    report: Mapped[dict[str, Any] | None]
    store_key: Mapped[str]
    created_at: Mapped[datetime] = mapped_column(default=utc_now)


class ParameterSet(Base):
    """A cell's or climate's file as it was; ``sha256`` is that of its bytes, ``name`` what the study called it."""

    __tablename__ = "parameter_sets"
    __table_args__ = (Index(None, "kind", "name"),)

    sha256: Mapped[str] = mapped_column(_HASH, primary_key=True)
    name: Mapped[str]
    kind: Mapped[str] = mapped_column(String(20))
    title: Mapped[str]
    document: Mapped[str]
    created_at: Mapped[datetime] = mapped_column(default=utc_now)


class Study(Base):
    """A study as given, histories by id; ``id`` is the hash of its canonical JSON."""

    __tablename__ = "studies"
    __table_args__ = (Index(None, "created_at", "id"),)

    id: Mapped[str] = mapped_column(_ID, primary_key=True)
    title: Mapped[str]
    document: Mapped[dict[str, Any]]
    created_at: Mapped[datetime] = mapped_column(default=utc_now)


class StudyHistory(Base):
    """One stored history that a study names; the row stays where the history is deleted, as the study's text does."""

    __tablename__ = "study_histories"
    __table_args__ = (Index(None, "history_id", "study_id"),)

    study_id: Mapped[str] = mapped_column(ForeignKey("studies.id", ondelete="CASCADE"), primary_key=True)
    history_id: Mapped[str] = mapped_column(_HASH, primary_key=True)


class Sweep(Base):
    """Many candidates of one study; ``id`` is the hash of the plan, ``document`` the study with its ranges."""

    __tablename__ = "sweeps"
    __table_args__ = (Index(None, "created_at", "id"),)

    id: Mapped[str] = mapped_column(_ID, primary_key=True)
    title: Mapped[str]
    document: Mapped[dict[str, Any]]
    axes: Mapped[list[dict[str, Any]]]
    candidates: Mapped[int]
    program_version: Mapped[str]
    created_at: Mapped[datetime] = mapped_column(default=utc_now)


class SweepRow(Base):
    """One strategy under one candidate of a sweep; ``figures`` holds varied values and all other figures."""

    __tablename__ = "sweep_rows"

    sweep_id: Mapped[str] = mapped_column(ForeignKey("sweeps.id", ondelete="CASCADE"), primary_key=True)
    place: Mapped[int] = mapped_column(primary_key=True)
    candidate: Mapped[int]
    strategy: Mapped[str]
    net_present: Mapped[float | None]
    battery_life_years: Mapped[float | None]
    figures: Mapped[dict[str, Any]]


class Assessment(Base):
    """A stored result, never changed; ``id`` is the library's fingerprint of study, inputs and program version.

    ``document`` is the result document, of this or an older version of its schema; lists do not load it.
    """

    __tablename__ = "assessments"
    __table_args__ = (Index(None, "created_at", "id"), Index(None, "study_id", "created_at"))

    id: Mapped[str] = mapped_column(_ID, primary_key=True)
    study_id: Mapped[str] = mapped_column(ForeignKey("studies.id"))
    title: Mapped[str]
    program_version: Mapped[str]
    currency: Mapped[str]
    service_years: Mapped[float]
    strategies: Mapped[int]
    created_at: Mapped[datetime] = mapped_column(default=utc_now)
    document: Mapped[dict[str, Any]] = mapped_column(deferred=True, deferred_raiseload=True)

    study: Mapped[Study] = relationship(lazy="raise")
    sources: Mapped[list["AssessmentSource"]] = relationship(
        lazy="raise", order_by="AssessmentSource.id", cascade="all, delete-orphan", passive_deletes=True
    )


class AssessmentSource(Base):
    """One source under one strategy, flat.

    ``life_key`` and ``cost_key`` are ``life_years`` and ``net_present_cost`` with a number in place of "none", so that
    sorting, paging and indexes need no rule for NULL; ``strategy_folded`` is the name without regard to case. Cost
    belongs to the strategy and stands with each of its sources.
    """

    __tablename__ = "assessment_sources"
    __table_args__ = (
        UniqueConstraint("assessment_id", "strategy", "kind"),
        *(
            Index(None, *lead, key, "id")
            for lead in ((), ("kind",), ("cell",))
            for key in ("life_key", "cost_key", "created_at")
        ),
        Index(None, "strategy_folded", "id"),
        Index(None, "cell", "id"),
        Index(None, "end_of_life_criterion", "life_key", "id"),
    )

    id: Mapped[int] = mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True)
    assessment_id: Mapped[str] = mapped_column(ForeignKey("assessments.id", ondelete="CASCADE"))
    title: Mapped[str]
    strategy: Mapped[str]
    strategy_folded: Mapped[str]
    rank: Mapped[int | None]
    kind: Mapped[str] = mapped_column(String(20))
    cell: Mapped[str]
    cell_sha256: Mapped[str] = mapped_column(_HASH)
    grade: Mapped[str]
    life_years: Mapped[float | None]
    life_state: Mapped[str] = mapped_column(String(20))
    life_key: Mapped[float]
    end_of_life_criterion: Mapped[str | None] = mapped_column(String(20))
    capacity_fraction_at_service_end: Mapped[float | None]
    resistance_ratio_at_service_end: Mapped[float | None]
    calendar_share_fraction: Mapped[float | None]
    cyclic_share_fraction: Mapped[float | None]
    equivalent_full_cycles_per_year: Mapped[float]
    throughput_Ah_per_year: Mapped[float]
    rms_current_A: Mapped[float]
    peak_current_A: Mapped[float]
    energy_losses_kWh_per_year: Mapped[float]
    replacements: Mapped[int | None]
    currency: Mapped[str]
    service_years: Mapped[float]
    net_present_cost: Mapped[float | None]
    cost_key: Mapped[float]
    equivalent_annual_cost: Mapped[float | None]
    cost_per_km: Mapped[float | None]
    program_version: Mapped[str]
    created_at: Mapped[datetime]


class Job(Base):
    """Work to be done; the row says what is true.

    ``attempt`` counts claims and fences them: whoever holds an older number has lost the job. ``retryable`` is set
    where the fault lay with the machine, so that submitting again runs it again; ``submitted_attempt`` is the number
    at which it was submitted last, so that numbers never come twice.
    """

    __tablename__ = "jobs"
    __table_args__ = (
        UniqueConstraint("study_id", "program_version"),
        Index(None, "state", "heartbeat_at"),
        Index(None, "created_at", "id"),
    )

    id: Mapped[str] = mapped_column(_ID, primary_key=True)
    study_id: Mapped[str] = mapped_column(ForeignKey("studies.id"))
    program_version: Mapped[str]
    state: Mapped[JobState] = mapped_column(String(10), default="queued")
    progress: Mapped[float] = mapped_column(default=0.0)
    message: Mapped[str] = mapped_column(default="")
    faults: Mapped[list[dict[str, Any]]] = mapped_column(default=list)
    retryable: Mapped[bool] = mapped_column(default=False)
    assessment_id: Mapped[str | None] = mapped_column(ForeignKey("assessments.id"))
    attempt: Mapped[int] = mapped_column(default=0)
    submitted_attempt: Mapped[int] = mapped_column(default=0)
    created_at: Mapped[datetime] = mapped_column(default=utc_now)
    started_at: Mapped[datetime | None]
    heartbeat_at: Mapped[datetime | None]
    finished_at: Mapped[datetime | None]


class Token(Base):
    """A bearer token; the secret itself is shown once and never stored."""

    __tablename__ = "tokens"

    id: Mapped[str] = mapped_column(String(16), primary_key=True)
    name: Mapped[str]
    role: Mapped[Role] = mapped_column(String(20))
    secret_hash: Mapped[str] = mapped_column(_HASH)
    created_at: Mapped[datetime] = mapped_column(default=utc_now)
    last_used_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]


class AuditEntry(Base):
    """Who changed what, and when; never changed itself, and it stays when its subject goes.

    ``who`` is the token's name, or ``local`` for a caller of this machine without one; ``title`` is what people call
    the subject: a file's name, a study's title, a token's name.
    """

    __tablename__ = "audit"
    __table_args__ = (Index(None, "created_at", "id"),)

    id: Mapped[int] = mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True)
    created_at: Mapped[datetime] = mapped_column(default=utc_now)
    who: Mapped[str]
    token_id: Mapped[str | None] = mapped_column(String(16))
    action: Mapped[AuditAction] = mapped_column(String(20))
    subject: Mapped[AuditSubject] = mapped_column(String(20))
    subject_id: Mapped[str] = mapped_column(_HASH)
    title: Mapped[str]


class UnremovedFile(Base):
    """A stored file whose history was deleted; the row goes once the file is gone."""

    __tablename__ = "unremoved_files"

    store_key: Mapped[str] = mapped_column(primary_key=True)
    history_id: Mapped[str] = mapped_column(_HASH)
