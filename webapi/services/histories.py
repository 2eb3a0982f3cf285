"""Uploaded histories: converted, stored and listed once by the hash of what was uploaded."""

import hashlib
import tempfile
from pathlib import Path
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapi import models
from webapi.database import write
from webapi.errors import LimitError
from webapi.services.insert_once import insert_once
from webapi.services.keys import stored
from webapi.services.paging import Page, SortKey, as_instant, page
from webapi.settings import ReadingLimits, UploadLimits
from webapi.store import HistoryStore
from webapi.store.intake import take_in
from webapi.store.integrity import hash_of, key_for
from webapi.store.isolated_import import take_in_apart

_SORTS: Final = {"created_at": SortKey(models.History.created_at, models.History.id, as_instant)}
_LONGEST_NAME: Final = 255
_NAMELESS: Final = "unnamed"


def add_upload(
    session: Session,
    store: HistoryStore,
    path: Path,
    file_name: str,
    limits: UploadLimits,
    reading: ReadingLimits | None = None,
) -> tuple[models.History, bool]:
    """Keep an uploaded file; the same content again gives the same history.

    The stored file appears before the row that names it, so nothing ever points at half a file; a file without a row,
    left by a crash in between, is taken over by the next upload of the same content. Where the stored file is missing
    or damaged, the upload heals it.

    Args:
        session: Where.
        store: Where the numbers go.
        path: The file uploaded, on this machine.
        file_name: What the user calls it; for display only, never a path.
        limits: What it may measure.
        reading: What reading it may take, in a process of its own; None reads it here, as befits the user's own files.

    Returns:
        The history, and whether it is new.

    Raises:
        HistoryError: It cannot be read as a history.
        LimitError: It is too large, or takes too much time or memory to read.
        ReadingError: Reading it ended in a way that nobody foresaw.
        StoreError: It cannot be kept.
    """
    size = path.stat().st_size
    if size > limits.file_bytes:
        raise LimitError(f"The file has {size} bytes, allowed are {limits.file_bytes}. Shorten it.")
    with path.open("rb") as file:
        key = hashlib.file_digest(file, "sha256").hexdigest()
    held = session.get(models.History, key)
    session.commit()
    if held is not None and store.condition(held.store_key) == "sound":
        return held, False
    label = display_name(file_name)
    with tempfile.TemporaryDirectory(dir=store.workspace()) as folder:
        target = Path(folder) / "history.parquet"
        if reading is None:
            taken = take_in(path, target, label, limits)
        else:
            taken = take_in_apart(path, target, label, limits, reading, Path(folder))
        with target.open("rb") as file:
            store_key = key_for(key, hash_of(file))
        store.put(target, store_key)
    row = models.History(
        id=key,
        file_name=label,
        format=taken.format,
        bytes=size,
        rows=taken.rows,
        columns=taken.columns,
        report=taken.report,
        store_key=store_key,
    )
    with write(session):
        stored_row, new = insert_once(session, row)
        # What the row named before is missing, damaged, or without a hash in its name.
        stored_row.store_key = store_key
        return stored_row, new


def get(session: Session, key: str) -> models.History:
    """One history.

    Args:
        session: Where.
        key: Its id.

    Raises:
        NotFoundError: There is none.
    """
    return stored(session, models.History, "history", key)


def listed(
    session: Session, *, cursor: str | None = None, limit: int = 50, sort: str = "-created_at"
) -> Page[models.History]:
    """One page of the histories, the newest first.

    Args:
        session: Where.
        cursor: From the page before.
        limit: Rows on the page.
        sort: ``created_at`` or ``-created_at``.

    Raises:
        QueryError: Cursor, limit or sort cannot be used.
    """
    return page(session, select(models.History), _SORTS, sort=sort, cursor=cursor, limit=limit)


def preview(session: Session, store: HistoryStore, key: str, rows: int = 20) -> dict[str, Any]:
    """The first rows of a history, for choosing its columns.

    Args:
        session: Where.
        store: Where the numbers are.
        key: Its id.
        rows: How many rows.

    Returns:
        ``columns`` with name, unit, kind and what it could be, and ``rows`` as lists of text.

    Raises:
        NotFoundError: There is none.
        StoreError: The stored file is missing or damaged.
    """
    row = get(session, key)
    return {"columns": row.columns, "rows": store.reader(row.store_key, row.file_name).head(rows)}


def display_name(file_name: str) -> str:
    """What the user called the file, fit for showing: the last part of a path, without control characters.

    Args:
        file_name: As sent; anything.
    """
    last = file_name.replace("\\", "/").rsplit("/", maxsplit=1)[-1]
    shown = "".join(letter for letter in last if letter.isprintable()).strip()
    shown = shown.encode("utf-8", "ignore").decode("utf-8")
    return shown[:_LONGEST_NAME] if shown.strip(".") else _NAMELESS
