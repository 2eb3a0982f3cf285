"""Whether stored bytes are those that were stored: the name of every stored file carries the hash of its content."""

import hashlib
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Final, Literal

SUFFIX: Final = ".parquet"
Condition = Literal["sound", "unproven", "damaged", "missing"]
"""``unproven``: there, but stored by a program that did not keep the hash, so nothing speaks for or against it."""
_KEY: Final = re.compile(r"[0-9a-f]{2}/[0-9a-f]{64}-([0-9a-f]{64})\.parquet")
_PIECE_BYTES: Final = 1 << 20

Identity = tuple[int, int, int, int]
"""Device, number, size and time of the last change of a file: other bytes have another one."""


def key_for(content_hash: str, stored_hash: str) -> str:
    """Key of a stored history.

    Args:
        content_hash: SHA-256 of the file uploaded, 64 hexadecimal digits.
        stored_hash: SHA-256 of the file in the store, 64 hexadecimal digits.
    """
    return f"{content_hash[:2]}/{content_hash}-{stored_hash}{SUFFIX}"


def promised_hash(key: str) -> str | None:
    """The hash that a key promises of its content, or None for keys of packwear 0.1.

    Args:
        key: Of a stored history.
    """
    found = _KEY.fullmatch(key)
    return None if found is None else found[1]


def hash_of(stream: IO[bytes] | Any) -> str:
    """SHA-256 of what is left in a stream, in hexadecimal.

    Args:
        stream: Anything with ``read``.
    """
    digest = hashlib.sha256()
    while piece := stream.read(_PIECE_BYTES):
        digest.update(piece)
    return digest.hexdigest()


@dataclass(frozen=True, slots=True)
class Proofs:
    """Which files of this machine this process has found sound; each is read once, until it changes.

    Args:
        found: Identity of each file when it was found sound.
    """

    found: dict[Path, Identity] = field(default_factory=dict)

    def condition(self, path: Path, key: str) -> Condition:
        """The condition of one file.

        Args:
            path: The file.
            key: Of the stored history.

        Raises:
            OSError: It cannot be read.
        """
        promised = promised_hash(key)
        if not path.is_file():
            return "missing"
        if promised is None:
            return "unproven"
        with path.open("rb") as file:
            status = os.fstat(file.fileno())
            # Whoever writes to a file can set back its modification time, but not that of its last change.
            identity = (status.st_dev, status.st_ino, status.st_size, status.st_ctime_ns)
            if self.found.get(path) == identity:
                return "sound"
            if hash_of(file) != promised:
                return "damaged"
        self.found[path] = identity
        return "sound"
