"""One root for all stored histories: a folder, or a bucket by URL; a file appears whole or not at all."""

import bisect
import hashlib
import itertools
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from webapi.errors import StoreError
from webapi.file_rights import is_own, make_folder, place, remove_abandoned
from webapi.settings import data_folder
from webapi.store.header import METADATA_KEY, Header, Table
from webapi.store.integrity import SUFFIX, Condition, Proofs, hash_of, promised_hash
from webapi.store.reader import StoredReader
from webapi.store.table_rows import TableRows

_UNFINISHED: Final = "unfinished"
_ABANDONED_S: Final = 3_600.0
"""Reading the largest upload takes less; a younger file may be in another process's hands."""


@dataclass(frozen=True, slots=True)
class HistoryStore:
    """Stored histories by key; a key is made by ``integrity.key_for`` and carries the hash of the bytes.

    Args:
        filesystem: A ``pyarrow.fs`` file system.
        root: Path of the root in it.
        folder: The root as a folder of this machine, or None for a bucket.
        cache: Folder for copies of files out of a bucket; they never change, because their names are hashes.
        proofs: Which files this process has found sound.
    """

    filesystem: Any
    root: str
    folder: Path | None
    cache: Path
    proofs: Proofs = field(default_factory=Proofs, compare=False)

    def condition(self, key: str) -> Condition:
        """Whether the bytes that lie under a key are those that were stored; a bucket is read, not its copies.

        Args:
            key: Of a stored history.

        Raises:
            StoreError: The store does not answer.
        """
        from pyarrow import fs  # noqa: PLC0415 - slow import

        try:
            if self.folder is not None:
                return self.proofs.condition(self.folder / key, key)
            path = f"{self.root}/{key}"
            if self.filesystem.get_file_info(path).type != fs.FileType.File:
                return "missing"
            promised = promised_hash(key)
            if promised is None:
                return "unproven"
            with self.filesystem.open_input_stream(path) as stream:
                return "sound" if hash_of(stream) == promised else "damaged"
        except OSError as error:
            raise StoreError(f"The store does not answer ({_reason(error)}). Try again in a moment.") from None

    def entries(self) -> Iterator[tuple[str, int]]:
        """Every key that lies in the store, with the size of its file [byte].

        Raises:
            StoreError: The store does not answer.
        """
        from pyarrow import fs  # noqa: PLC0415 - slow import

        try:
            found = self.filesystem.get_file_info(fs.FileSelector(self.root, allow_not_found=True, recursive=True))
        except OSError as error:
            raise StoreError(f"The store does not answer ({_reason(error)}). Try again in a moment.") from None
        for one in found:
            key = one.path.removeprefix(self.root).lstrip("/")
            if one.type == fs.FileType.File and key.endswith(SUFFIX) and not key.startswith(f"{_UNFINISHED}/"):
                yield key, one.size

    def remove(self, key: str) -> None:
        """Remove a stored file; one that is gone already is no error.

        Args:
            key: Of a stored history.

        Raises:
            StoreError: It cannot be removed.
        """
        try:
            if self.folder is not None:
                (self.folder / key).unlink(missing_ok=True)
                return
            (self.cache / key).unlink(missing_ok=True)
            with suppress(FileNotFoundError):
                self.filesystem.delete_file(f"{self.root}/{key}")
        except OSError as error:
            raise StoreError(
                f"The stored history {key} cannot be removed ({_reason(error)}). Check the store's rights."
            ) from None

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
            key: Of a stored history.

        Raises:
            StoreError: There is no room, or no right to write.
        """
        try:
            if self.folder is not None:
                place(source, self.folder / key)
                return
            with source.open("rb") as file, self.filesystem.open_output_stream(f"{self.root}/{key}") as target_file:
                shutil.copyfileobj(file, target_file, 1 << 20)
            source.unlink()
        except OSError as error:
            if self.folder is None:
                # Closing the stream completes the object with what it got; where that cannot be taken back either,
                # its hash gives it away.
                with suppress(OSError):
                    self.filesystem.delete_file(f"{self.root}/{key}")
            raise StoreError(
                f"The history cannot be stored ({_reason(error)}). Nothing was kept; free some room, or check the "
                "store's rights and connection, then upload again."
            ) from None

    def local(self, key: str, label: str = "") -> Path:
        """The stored file as a file of this machine, its bytes as they were stored.

        A file in a bucket is copied once; what this process has not seen yet, or what changed since, is held against
        the hash in its key.

        Args:
            key: Of a stored history.
            label: The uploaded file's name, for messages.

        Raises:
            StoreError: It is missing, damaged, or cannot be read.
        """
        named = f'history "{label}"' if label else f"history {key}"
        if self.folder is not None:
            path, found = self.folder / key, self.condition(key)
        else:
            path, found = self._copied(key)
        if found == "missing":
            raise StoreError(
                f"The stored {named} is missing from the store. Upload the same file again, or restore it from a "
                "backup."
            )
        if found == "damaged":
            raise damaged(named)
        return path

    def _copied(self, key: str) -> tuple[Path, Condition]:
        """The copy of a bucket's file and its condition; a copy that went bad is fetched anew."""
        make_folder(self.cache)
        if not is_own(self.cache):
            raise StoreError(f"{self.cache} can be written by others, so what lies there is not trusted. Remove it.")
        path = self.cache / key
        found = self.proofs.condition(path, key)
        if found in ("missing", "damaged"):
            self._fetch(key, path)
            found = self.proofs.condition(path, key)
        return path, found

    def reader(self, key: str, label: str) -> StoredReader:
        """Open a stored history.

        Args:
            key: Of a stored history.
            label: The uploaded file's name, for messages.

        Raises:
            StoreError: It is missing, or not a file of this store.
        """
        found = stored_reader(self.local(key, label), label)
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
            raise StoreError(f"The stored history {key} cannot be read ({_reason(error)}).") from None


def damaged(named: str) -> StoreError:
    """The refusal of a stored file whose bytes are not those that were stored.

    Args:
        named: What the message calls it.
    """
    return StoreError(
        f"The stored {named} is damaged: its bytes are not those that were stored. Upload the same file again, which "
        "heals it. packwear db check names all that are damaged."
    )


def stored_reader(path: Path, label: str) -> StoredReader | None:
    """Open a file of the store, or None where this program did not write it.

    Args:
        path: On this machine.
        label: The uploaded file's name, for messages.

    Raises:
        StoreError: It is cut or damaged.
    """
    import pyarrow as pa  # noqa: PLC0415 - slow imports
    from pyarrow import parquet  # noqa: PLC0415

    try:
        with parquet.ParquetFile(path) as file:
            memory, schema = file.metadata.metadata or {}, file.schema_arrow
            if METADATA_KEY not in memory:
                return None
            header = Header.from_bytes(memory[METADATA_KEY])
            groups = _groups(file.metadata, header.tables)
    except (pa.ArrowException, OSError, ValueError, LookupError, TypeError):
        raise damaged(f'history "{label}"') from None
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


def _reason(error: OSError) -> str:
    # The libraries of buckets put the whole request in front.
    words = error.strerror or (str(error).splitlines() or [type(error).__name__])[0]
    return words.rpartition(" operation: ")[2]


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
