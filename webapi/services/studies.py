"""Studies: checked against what is stored, and kept once by the hash of what they say."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from lifetime.errors import Fault, StudyError
from lifetime.results.upgrade import upgrade_study
from lifetime.study.load import LoadedStudy, resolve_study
from lifetime.study.schema import Study as StudySchema
from webapi import models
from webapi.services.insert_once import insert_once
from webapi.services.keys import stored
from webapi.services.paging import Page, SortKey, as_instant, page
from webapi.services.shelf import IS_HASH, StoreShelf
from webapi.services.study_size import too_many, too_many_rows
from webapi.settings import StudyLimits
from webapi.store import HistoryStore

_DEEPEST: Final = 12
"""Levels of nesting; a study needs five."""
_SORTS: Final = {
    "created_at": SortKey(models.Study.created_at, models.Study.id, as_instant),
}


def check(
    session: Session,
    store: HistoryStore,
    document: Mapping[str, Any],
    name: str = "study",
    limits: StudyLimits | None = None,
) -> LoadedStudy:
    """Check a study and open everything it names; histories are named by their ids, never by a path.

    Args:
        session: Where histories and parameter sets are looked up; no transaction is left open.
        store: Where the histories' numbers are.
        document: The study's keys and values; ``file`` of each history is its id.
        name: How messages call it.
        limits: What it may ask for; None where that was checked before, as in a job.

    Raises:
        StudyError: With every fault found.
    """
    faults = list(_unusable(document, "", 1))
    if limits is not None:
        faults += too_many(document, limits)
    if faults:
        raise StudyError(name, faults)
    shelf = StoreShelf.for_document(session, store, document)
    if limits is not None and (rows := too_many_rows(document, shelf.histories, limits)) is not None:
        raise StudyError(name, [rows])
    return resolve_study(document, name, shelf)


def study_id(study: StudySchema) -> str:
    """The hash of a study's canonical JSON: the same whatever the order of its keys, and with defaults spelled out.

    Args:
        study: The study.
    """
    text = json.dumps(study.model_dump(mode="json"), sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def keep(session: Session, study: StudySchema) -> models.Study:
    """Store a study once, with the histories it names, which cannot be deleted until the transaction ends.

    Args:
        session: In a writing transaction, the caller's.
        study: With histories by id.

    Raises:
        StudyError: A history was deleted since the study was checked.
    """
    named = named_histories(study)
    query = select(models.History.id).where(models.History.id.in_(named)).order_by(models.History.id)
    there = set(session.scalars(query.with_for_update(read=True, key_share=True)))
    if there != named:
        faults = [Fault("strategy", f"names the history {key}, which was deleted.") for key in sorted(named - there)]
        raise StudyError(study.title, faults)
    document = study.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    row, _ = insert_once(session, models.Study(id=study_id(study), title=study.title, document=document))
    for key in sorted(named):
        insert_once(session, models.StudyHistory(study_id=row.id, history_id=key))
    return row


def named_histories(study: StudySchema) -> set[str]:
    """Ids of the stored histories that a study names.

    Args:
        study: With histories by id.
    """
    return {spec.file for one in study.strategy for spec in one.inputs().values() if IS_HASH.fullmatch(spec.file)}


def get(session: Session, key: str) -> models.Study:
    """One study.

    Args:
        session: Where.
        key: Its id.

    Raises:
        NotFoundError: There is none.
    """
    return stored(session, models.Study, "study", key)


def data(row: models.Study) -> dict[str, Any]:
    """A stored study as plain data with today's keys, whatever version of the program stored it.

    Args:
        row: From ``get``.
    """
    return upgrade_study(row.document)


def histories_of(document: Mapping[str, Any]) -> set[str]:
    """Ids of the histories that a stored study names.

    Args:
        document: The study as it was stored, by any version of the program.
    """
    inputs = (one.get(role) for one in document.get("strategy", ()) for role in ("demand", "battery", "ultracapacitor"))
    return {one["file"] for one in inputs if one}


def listed(
    session: Session, *, cursor: str | None = None, limit: int = 50, sort: str = "-created_at"
) -> Page[models.Study]:
    """One page of the studies, the newest first.

    Args:
        session: Where.
        cursor: From the page before.
        limit: Rows on the page.
        sort: ``created_at`` or ``-created_at``.

    Raises:
        QueryError: Cursor, limit or sort cannot be used.
    """
    return page(session, select(models.Study), _SORTS, sort=sort, cursor=cursor, limit=limit)


def _unusable(value: Any, place: str, depth: int) -> Iterator[Fault]:
    """What no database and no message could carry: endless nesting, NUL characters, halves of characters."""
    if depth > _DEEPEST:
        yield Fault(place[:200], f"is nested deeper than {_DEEPEST} levels. A study is flat.")
    elif isinstance(value, str):
        if "\x00" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
            yield Fault(place or "study", "holds a NUL character or half a character. Remove it.")
    elif isinstance(value, Mapping):
        for key, item in value.items():
            name = key if isinstance(key, str) else repr(key)
            yield from _unusable(name, place or "study", depth)
            yield from _unusable(item, f"{place}.{name}" if place else name, depth + 1)
    elif isinstance(value, list | tuple):
        for number, item in enumerate(value, start=1):
            yield from _unusable(item, f"{place}[{number}]", depth + 1)
