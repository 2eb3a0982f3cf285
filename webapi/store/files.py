"""One root for all stored histories: a folder, or a bucket by URL; a file appears whole or not at all."""

import bisect
import hashlib
import itertools
import os
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from webapi.errors import StoreError
from webapi.file_rights import is_own, make_folder, place, remove_abandoned
from webapi.settings import data_folder
from webapi.store.damage import DamageGuard
from webapi.store.header import METADATA_KEY, Header, Table
from webapi.store.reader import StoredReader
from webapi.store.table_rows import TableRows

_SUFFIX: Final = ".parquet"
_UNFINISHED: Final = "unfinished"
_ABANDONED_S: Final = 3_600.0
"""Reading the largest upload takes less; a younger file may be in another process's hands."""


@dataclass(frozen=True, slots=True)
class HistoryStore:
    """Stored histories by key.

    Args:
        filesystem: A ``pyarrow.fs`` file system.
        root: Path of the root in it.
        folder: The root as a folder of this machine, or None for a bucket.
        cache: Folder for copies of files out of a bucket; they never change, because their names are hashes.
    """

    filesystem: Any
    root: str
    folder: Path | None
    cache: Path

    def key_for(self, content_hash: str) -> str:
        """Key of a history by the hash of what was uploaded.

        Args:
            content_hash: 64 hexadecimal digits.
        """
        return f"{content_hash[:2]}/{content_hash}{_SUFFIX}"

    def has(self, key: str) -> bool:
        """True where the key is stored.

        Args:
            key: From ``key_for``.
        """
        from pyarrow import fs  # noqa: PLC0415 - slow import

        return bool(self.filesystem.get_file_info(f"{self.root}/{key}").type == fs.FileType.File)

    def workspace(self) -> Path:
        """A folder for unfinished files, on the same disk as the store where that is a folder.

        Raises:
            StoreError: It cannot be made.
        """
        unfinished = (self.cache if self.folder is None else self.folder) / _UNFINISHED
        try:
            make_folder(unfinished)
            unfinished.chmod(0o700)
        except OSError as error:
            raise StoreError(f"The store cannot be written ({error.strerror}). Check its disk and rights.") from None
        return unfinished

    def clean(self) -> int:
        """Remove unfinished files whose process is gone; answers how many there were."""
        return remove_abandoned(self.workspace(), _ABANDONED_S)

    def put(self, source: Path, key: str) -> None:
        """Take a finished file into the store; putting the same key twice changes nothing.

        Args:
            source: In ``workspace()``; it is moved.
            key: From ``key_for``.

        Raises:
            StoreError: There is no room, or no right to write.
        """
        try:
            if self.folder is not None:
                place(source, self.folder / key)
                return
            # An object appears in a bucket only when its upload is complete.
            with source.open("rb") as file, self.filesystem.open_output_stream(f"{self.root}/{key}") as target_file:
                shutil.copyfileobj(file, target_file, 1 << 20)
            source.unlink()
        except OSError as error:
            reason = error.strerror or str(error).splitlines()[0]
            raise StoreError(
                f"The history cannot be stored ({reason}). Nothing was kept; free some room or check the rights, then "
                "upload again."
            ) from None

    def remove(self, key: str) -> None:
        """Remove a stored file; one that is gone already is no error.

        Args:
            key: From ``key_for``.

        Raises:
            StoreError: It cannot be removed.
        """
        try:
            if self.folder is not None:
                (self.folder / key).unlink(missing_ok=True)
                return
            (self.cache / key).unlink(missing_ok=True)
            if self.has(key):
                self.filesystem.delete_file(f"{self.root}/{key}")
        except OSError as error:
            reason = error.strerror or str(error).splitlines()[0]
            raise StoreError(
                f"The stored history {key} cannot be removed ({reason}). Check the store's rights."
            ) from None

    def local(self, key: str) -> Path:
        """The stored file as a file of this machine; copied once where it lies in a bucket.

        Args:
            key: From ``key_for``.

        Raises:
            StoreError: It is missing or cannot be read.
        """
        if self.folder is not None:
            path = self.folder / key
            if not path.is_file():
                raise StoreError(f"The stored history {key} is missing from the store. Restore it from a backup.")
            return path
        make_folder(self.cache)
        if not is_own(self.cache):
            raise StoreError(f"{self.cache} can be written by others, so what lies there is not trusted. Remove it.")
        path = self.cache / key
        if not path.is_file():
            self._fetch(key, path)
        return path

    def reader(self, key: str, label: str) -> StoredReader:
        """Open a stored history.

        Args:
            key: From ``key_for``.
            label: The uploaded file's name, for messages.

        Raises:
            StoreError: It is missing, or not a file of this store.
        """
        found = stored_reader(self.local(key), label)
        if found is None:
            raise StoreError(f"The stored history {key} was not written by this program. Restore it from a backup.")
        return found

    def _fetch(self, key: str, path: Path) -> None:
        handle, name = tempfile.mkstemp(dir=self.workspace())
        try:
            with os.fdopen(handle, "wb") as file, self.filesystem.open_input_stream(f"{self.root}/{key}") as source:
                shutil.copyfileobj(source, file, 1 << 20)
            place(Path(name), path)
        except OSError as error:
            Path(name).unlink(missing_ok=True)
            raise StoreError(f"The stored history {key} cannot be read ({str(error).splitlines()[0]}).") from None


def stored_reader(path: Path, label: str) -> StoredReader | None:
    """Open a file of the store, or None where this program did not write it.

    Args:
        path: On this machine.
        label: The uploaded file's name, for messages.

    Raises:
        HistoryError: The file is damaged.
    """
    from pyarrow import parquet  # noqa: PLC0415 - slow import

    with DamageGuard("Parquet", label), parquet.ParquetFile(path) as file:
        memory, schema = file.metadata.metadata or {}, file.schema_arrow
        if METADATA_KEY not in memory:
            return None
        header = Header.from_bytes(memory[METADATA_KEY])
        groups = _groups(file.metadata, header.tables)
    kinds = tuple(str(kind) for kind in schema.types)
    tables = tuple(TableRows(label, tuple(schema.names), kinds, path, one) for one in groups)
    return StoredReader(path, label, header, tables)


def _groups(meta: Any, tables: Sequence[Table]) -> list[tuple[int, ...] | None]:
    """The row groups of each table, each of which begins with a group of its own."""
    if not tables:
        return [None]
    starts = [0, *itertools.accumulate(meta.row_group(number).num_rows for number in range(meta.num_row_groups))]
    first = [bisect.bisect_left(starts, table.start) for table in tables]
    last = [bisect.bisect_left(starts, table.start + table.rows) for table in tables]
    return [tuple(range(begin, end)) for begin, end in zip(first, last, strict=True)]


def open_store(url: str) -> HistoryStore:
    """Open the store that a URL or a folder names; a folder is made when first written to.

    Args:
        url: A folder, ``file:///FOLDER`` or ``s3://BUCKET/PREFIX``.

    Raises:
        StoreError: The URL is neither.
    """
    from pyarrow import fs  # noqa: PLC0415 - slow import

    # In this user's own folder: whoever could write to it could plant numbers.
    cache = data_folder() / "fetched" / hashlib.sha256(url.encode()).hexdigest()[:16]
    if "://" not in url:
        folder = Path(url).expanduser().resolve()
        return HistoryStore(fs.LocalFileSystem(), str(folder), folder, cache)
    try:
        filesystem, root = fs.FileSystem.from_uri(url)
    except (ValueError, OSError, NotImplementedError) as error:
        raise StoreError(
            f"The store's URL cannot be used ({str(error).splitlines()[0]}). Give a folder or s3://BUCKET/PREFIX."
        ) from None
    is_local = isinstance(filesystem, fs.LocalFileSystem)
    return HistoryStore(filesystem, root.rstrip("/"), Path(root) if is_local else None, cache)
