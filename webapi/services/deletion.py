"""Deleting histories and assessments, each with its line in the audit trail.

A history is needed as long as an assessment was made from it, for that could not be run again without it, or a job is
about to read it. A study that was never assessed needs nothing: it stays as text, and says what is missing where it is
submitted again. Nothing needs an assessment. The row of a history goes first and its file after the commit; what a
crash leaves in between is on record and removed at the next start, so there is never a row without a file.
"""

import logging
from collections.abc import Sequence
from typing import Final

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from webapi.database import hold, write
from webapi.errors import ConflictError, StoreError
from webapi.models import Assessment, History, Job, Study, StudyHistory, UnremovedFile
from webapi.services import audit
from webapi.services.audit import LOCAL, Actor
from webapi.services.insert_once import insert_once
from webapi.services.keys import stored
from webapi.store import HistoryStore

LOGGER: Final = logging.getLogger("packwear")
_MOST_NAMED: Final = 5


def delete_history(session: Session, store: HistoryStore, key: str, by: Actor = LOCAL) -> None:
    """Delete a history that nothing needs, and remove its file.

    Args:
        session: Where.
        store: Where its numbers are.
        key: Its id.
        by: Who deletes it.

    Raises:
        NotFoundError: There is none.
        ConflictError: Something needs it; the message says what.
    """
    with write(session):
        stored(session, History, "history", key)
        # Submissions take a weaker lock on the row, so none comes between this look and the commit.
        row = session.get_one(History, key, populate_existing=True, with_for_update=True)
        _require_unneeded(session, row)
        insert_once(session, UnremovedFile(store_key=row.store_key, history_id=key))
        audit.note(session, by, "deleted", "history", key, row.file_name)
        session.delete(row)
    remove_files(session, store)


def delete_assessment(session: Session, key: str, by: Actor = LOCAL) -> None:
    """Delete an assessment with the job that made it, so that its study can be submitted again; the study stays.

    Args:
        session: Where.
        key: Its id.
        by: Who deletes it.

    Raises:
        NotFoundError: There is none.
    """
    with write(session):
        title = stored(session, Assessment, "assessment", key).title
        session.execute(delete(Job).where(Job.assessment_id == key))
        session.execute(delete(Assessment).where(Assessment.id == key))
        audit.note(session, by, "deleted", "assessment", key, title)


def remove_files(session: Session, store: HistoryStore) -> int:
    """Remove the files of deleted histories that are still there; what cannot be removed is left for the next start.

    Args:
        session: Where.
        store: Where the files are.

    Returns:
        How many were removed.
    """
    removed = 0
    for file in session.scalars(select(UnremovedFile)).all():
        try:
            with write(session):
                hold(session, file.history_id)
                # The same content may have been uploaded again since.
                if session.get(History, file.history_id, populate_existing=True) is None:
                    store.remove(file.store_key)
                    removed += 1
                session.execute(delete(UnremovedFile).where(UnremovedFile.store_key == file.store_key))
        except StoreError as error:
            LOGGER.warning("file not removed", extra={"facts": {"reason": str(error)}})
    return removed


def _require_unneeded(session: Session, row: History) -> None:
    of_study = (StudyHistory.history_id == row.id,)
    assessed = (
        select(Assessment.id, Assessment.title)
        .join(StudyHistory, StudyHistory.study_id == Assessment.study_id)
        .where(*of_study)
        .order_by(Assessment.created_at.desc(), Assessment.id)
    )
    waiting = (
        select(Job.id, Study.title)
        .join(Study, Study.id == Job.study_id)
        .join(StudyHistory, StudyHistory.study_id == Job.study_id)
        .where(*of_study, Job.state.in_(("queued", "running")))
        .order_by(Job.created_at, Job.id)
    )
    for query, words, remedy in (
        (assessed, "Assessments were made from it", "Delete these first"),
        (waiting, "Jobs are about to read it", "Cancel these, or wait for them"),
    ):
        found = [(key, title) for key, title in session.execute(query.limit(_MOST_NAMED + 1))]
        if found:
            raise ConflictError(f"{row.file_name} cannot be deleted. {words}: {_named(found)}. {remedy}.")


def _named(found: Sequence[tuple[str, str]]) -> str:
    names = [f'"{title[:80]}" ({key})' for key, title in found[:_MOST_NAMED]]
    return ", ".join(names) + (" and others" if len(found) > _MOST_NAMED else "")
