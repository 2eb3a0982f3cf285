"""Healing what can be healed: histories from their files, parameter sets from the shipped ones, indexes from tables."""

import hashlib
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from lifetime.errors import HistoryError
from lifetime.packs.climate import climate_text, load_climate
from lifetime.packs.locate import find_file, shipped_ids
from lifetime.packs.read import parse_profile
from webapi import models
from webapi.database import write
from webapi.errors import StoreError
from webapi.services import histories
from webapi.services.health import database_faults, sets_not_whole
from webapi.services.insert_once import insert_once
from webapi.services.local_histories import ANY_SIZE
from webapi.services.shelf import FOLDER_OF
from webapi.store import HistoryStore
from webapi.store.integrity import hash_of, key_for


def repair(session: Session, store: HistoryStore, files: Sequence[Path]) -> Iterator[str]:
    """Heal what can be healed; what is left, ``health.examine`` names.

    Args:
        session: The database.
        store: Where the histories' numbers are.
        files: Files that were uploaded once, to heal their histories from.

    Yields:
        What was done, in words.

    Raises:
        StoreError: The store cannot be read or written.
    """
    yield from _indexes(session)
    for file in files:
        yield _from_file(session, store, file)
    yield from _proofs(session, store)
    yield from _superseded(session, store)
    yield from _parameter_sets(session)


def _indexes(session: Session) -> Iterator[str]:
    if not database_faults(session, "integrity_check"):
        return
    with write(session):
        session.execute(text("REINDEX"))
    left = database_faults(session, "integrity_check")
    yield (
        "The database's indexes were damaged and are made anew."
        if not left
        else "Making the indexes anew did not help."
    )


def _from_file(session: Session, store: HistoryStore, file: Path) -> str:
    with file.open("rb") as stream:
        row = session.get(models.History, hash_of(stream))
    if row is None:
        return f"{file}: no history on record was made from this file."
    if store.condition(row.store_key) == "sound":
        return f"{file}: its history was sound."
    histories.add_upload(session, store, file, row.file_name, ANY_SIZE)
    return f"{file}: its history is stored anew."


def _proofs(session: Session, store: HistoryStore) -> Iterator[str]:
    """Give the histories of packwear 0.1 a key with the hash of their bytes, where these fit what the row says."""
    proven = 0
    for row in session.scalars(select(models.History)).all():
        if store.condition(row.store_key) != "unproven":
            continue
        try:
            _prove(session, store, row)
        except (StoreError, HistoryError) as error:
            yield f'"{row.file_name}" ({row.id[:12]}) cannot be proven sound: {error}'
        else:
            proven += 1
    if proven:
        yield f"Histories whose hash is kept from now on: {proven}."


def _prove(session: Session, store: HistoryStore, row: models.History) -> None:
    reader = store.reader(row.store_key, row.file_name)
    # Reading holds every page against the checksum that was written with it; such a file has one table.
    rows = sum(chunk.rows.size for chunk in reader.tables[0].chunks(reader.number_columns()))
    named = [one["name"] for one in row.columns]
    if list(reader.columns) != named or (reader.number_columns() and rows != row.rows):
        raise StoreError("it has other columns or rows than were stored. Upload the same file again.")
    with tempfile.TemporaryDirectory(dir=store.workspace()) as folder:
        copy = Path(folder) / "history.parquet"
        shutil.copyfile(reader.path, copy)
        with copy.open("rb") as stream:
            key = key_for(row.id, hash_of(stream))
        store.put(copy, key)
    with write(session):
        session.get_one(models.History, row.id).store_key = key


def _superseded(session: Session, store: HistoryStore) -> Iterator[str]:
    """Remove the files that histories had before they were stored anew."""
    held = {row.id: row.store_key for row in session.scalars(select(models.History))}
    removed = 0
    for key, _ in list(store.entries()):
        now = held.get(Path(key).name[:64])
        if now is not None and now != key and store.condition(now) == "sound":
            store.remove(key)
            removed += 1
    if removed:
        yield f"Files removed whose histories are stored anew: {removed}."


def _parameter_sets(session: Session) -> Iterator[str]:
    for key, kind, name in list(sets_not_whole(session)):
        document = _shipped_text(kind, name)
        if hashlib.sha256(document.encode()).hexdigest() != key:
            yield f"{name} ({kind}, {key[:12]}) cannot be made anew: no shipped set has its content. Restore a backup."
            continue
        title = name if kind == "climate" else parse_profile(document, name).title
        with write(session):
            fresh = models.ParameterSet(sha256=key, name=name, kind=kind, title=title, document=document)
            insert_once(session, fresh)[0].document = document
        yield f"{name} ({kind}) is taken anew from the shipped set."


def _shipped_text(kind: str, name: str) -> str:
    """The text of a shipped set as a record keeps it, or nothing."""
    if name not in shipped_ids(FOLDER_OF[kind]):
        return ""
    if kind == "climate":
        return climate_text(load_climate(name))
    return find_file(name, FOLDER_OF[kind], Path()).read_bytes().decode("utf-8")
