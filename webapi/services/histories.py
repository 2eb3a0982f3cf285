"""Uploaded histories: converted, stored and listed once by the hash of what was uploaded."""

import hashlib
import json
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.number_format import Decimal
from webapi import models
from webapi.database import hold, write
from webapi.errors import LimitError, QueryError, StoreError
from webapi.services import audit
from webapi.services.audit import LOCAL, Actor
from webapi.services.insert_once import insert_once
from webapi.services.keys import stored
from webapi.services.paging import Page, SortKey, as_instant, page
from webapi.settings import ReadingLimits, UploadLimits
from webapi.store import HistoryStore
from webapi.store.intake import Intake, take_in
from webapi.store.integrity import hash_of, key_for
from webapi.store.isolated_import import take_in_apart

_SORTS: Final = {"created_at": SortKey(models.History.created_at, models.History.id, as_instant)}
_LONGEST_NAME: Final = 255
_NAMELESS: Final = "unnamed"
UPLOAD_NAME: Final = "upload.xlsx"
"""What an upload is called while it is read: only the library for workbooks asks how a name ends."""
_ROW: Final = re.compile(r"[0-9]{0,7}")
LAYOUT_FIELDS: Final = ("sheet", "header_row", "decimal")
"""What an upload may state about a file's layout; a bus database is another file, so it is for the command line."""
_MOST_TRIES: Final = 3


def add_upload(
    session: Session,
    store: HistoryStore,
    path: Path,
    file_name: str,
    limits: UploadLimits,
    reading: ReadingLimits | None = None,
    layout: Layout = AS_FOUND,
    by: Actor = LOCAL,
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
        layout: What is stated about its layout; the same content laid out otherwise is another history.
        by: Who uploads it.

    Returns:
        The history, and whether it is new.

    Raises:
        HistoryError: It cannot be read as a history.
        LimitError: It is too large, or takes too much time or memory to read.
        MissingPackageError: Its format needs a package that is not installed here.
        ReadingError: Reading it ended in a way that nobody foresaw.
        StoreError: It cannot be kept.
    """
    size = path.stat().st_size
    if size > limits.file_bytes:
        raise LimitError(f"The file has {size} bytes, allowed are {limits.file_bytes}. Shorten it.")
    key = _key(path, layout)
    held = session.get(models.History, key)
    session.commit()
    if held is not None and store.condition(held.store_key) == "sound":
        return held, False
    label = display_name(file_name)
    for _ in range(_MOST_TRIES):
        taken, store_key = _put(store, path, key, label, limits, reading, layout)
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
            hold(session, key)
            # Who deletes the same history may have removed its file since.
            if store.condition(store_key) != "missing":
                kept, new = insert_once(session, row)
                # What the row named before is missing, damaged, or without a hash in its name.
                kept.store_key = store_key
                if new:
                    audit.note(session, by, "uploaded", "history", key, label)
                return kept, new
    raise StoreError(f"{label}: the stored file vanished while it was kept. Upload it again.")


def _put(
    store: HistoryStore,
    path: Path,
    key: str,
    label: str,
    limits: UploadLimits,
    reading: ReadingLimits | None,
    layout: Layout,
) -> tuple[Intake, str]:
    """Read an uploaded file, put what was read into the store, and answer the key it has there."""
    with tempfile.TemporaryDirectory(dir=store.workspace()) as folder:
        target = Path(folder) / "history.parquet"
        if reading is None:
            taken = take_in(path, target, label, limits, layout)
        else:
            taken = take_in_apart(path, target, label, limits, reading, Path(folder), layout)
        with target.open("rb") as file:
            store_key = key_for(key, hash_of(file))
        store.put(target, store_key)
    return taken, store_key


def stated_layout(given: Mapping[str, str]) -> Layout:
    """The layout that goes with an upload; empty fields state nothing.

    Args:
        given: Fields of a form or a query; ``sheet``, ``header_row`` and ``decimal`` are read.

    Raises:
        QueryError: One of them cannot be used.
    """
    sheet, row, decimal = (given.get(key, "").strip() for key in LAYOUT_FIELDS)
    if not _ROW.fullmatch(row):
        raise QueryError("header_row", f'must be a row counted from 1, or 0 where there is none, got "{row[:20]}".')
    mark: Decimal | None = None if not decimal else "," if decimal == "," else "."
    if decimal and decimal != mark:
        raise QueryError("decimal", f'must be . or , and is "{decimal[:20]}".')
    return Layout(int(row) if row else None, mark, sheet or None)


def _key(path: Path, layout: Layout) -> str:
    """The id: hash of the content, and of what is stated about its layout where anything is."""
    with path.open("rb") as file:
        content = hashlib.file_digest(file, "sha256").hexdigest()
    if layout == AS_FOUND:
        return content
    text = json.dumps([content, layout.sheet, layout.header_row, layout.decimal], separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


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
