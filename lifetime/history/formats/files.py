"""The file or files that a name in a study stands for, each behind its reader."""

import hashlib
import re
from pathlib import Path
from typing import Final

from lifetime.errors import HistoryError
from lifetime.history.formats.joined_files import JoinedReader
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.reader import Reader
from lifetime.history.formats.registry import reader_for

_PATTERN: Final = re.compile(r"[*?]")
_DIGITS: Final = re.compile(r"(\d+)")


def is_pattern(file: str) -> bool:
    """Tell whether a name stands for several files.

    Args:
        file: As the study gives it.
    """
    return _PATTERN.search(file) is not None


def find_files(file: str, base_dir: Path) -> tuple[Path, ...]:
    """The file named, or all that fit a pattern in the order of their names, numbers counted as numbers.

    Args:
        file: As the study gives it.
        base_dir: Directory that a relative path is relative to.

    Raises:
        HistoryError: No file fits the pattern.
    """
    if not is_pattern(file):
        return (base_dir / file,)
    path = Path(file)
    root = Path(path.anchor) if path.is_absolute() else base_dir
    pattern = str(path.relative_to(path.anchor)) if path.is_absolute() else file
    paths = [match for match in root.glob(pattern) if match.is_file()]
    if not paths:
        raise HistoryError("no file fits this pattern.", file=file, remedy="Check the folder and the pattern.")
    return tuple(sorted(paths, key=_natural))


def open_readers(file: str, base_dir: Path, layout: Layout = AS_FOUND) -> dict[Path, Reader]:
    """A reader for each file that a name stands for, in the order of ``find_files``.

    Args:
        file: A path, or a pattern with ``*`` or ``?``.
        base_dir: Directory that a relative path is relative to.
        layout: What is stated about the files' layout.

    Raises:
        HistoryError: A file is missing, cannot be read, or has a format that is not read here.
        MissingPackageError: The format needs an optional package.
    """
    of_several = is_pattern(file)
    return {path: reader_for(path, path.name if of_several else file, layout) for path in find_files(file, base_dir)}


def open_files(file: str, base_dir: Path, layout: Layout = AS_FOUND) -> Reader:
    """One reader for all files that a name stands for, in the order of their names.

    Args:
        file: A path, or a pattern with ``*`` or ``?``.
        base_dir: Directory that a relative path is relative to.
        layout: What is stated about the files' layout.

    Raises:
        HistoryError: A file is missing, cannot be read, or has a format that is not read here.
        MissingPackageError: The format needs an optional package.
    """
    readers = tuple(open_readers(file, base_dir, layout).values())
    return JoinedReader(file, readers, None) if is_pattern(file) else readers[0]


def files_sha256(paths: tuple[Path, ...]) -> str:
    """Hash of the files' content, SHA-256 in hexadecimal; of several files the hash of their hashes.

    Args:
        paths: The files, in order.
    """
    hashes = []
    for path in paths:
        with path.open("rb") as file:
            hashes.append(hashlib.file_digest(file, "sha256").hexdigest())
    return hashes[0] if len(hashes) == 1 else hashlib.sha256("".join(hashes).encode()).hexdigest()


def _natural(path: Path) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (-1, part) for part in _DIGITS.split(str(path))]
