"""Files that hold the same samples: one log under two names counts twice."""

import hashlib
from typing import Any

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray, file_of


class RepeatedFiles:
    """Adds up a hash of the drive's samples for each file of a history."""

    def __init__(self) -> None:
        self._digests: dict[int, Any] = {}

    def add(self, rows: IntArray, drive: FloatArray) -> None:
        """Add a stretch.

        Args:
            rows: Rows with the numbers of their files.
            drive: Current, power or speed in these rows.
        """
        files = file_of(rows)
        starts = np.flatnonzero(np.diff(files, prepend=-1))
        for start, end in zip(starts.tolist(), [*starts[1:].tolist(), files.size], strict=True):
            digest = self._digests.setdefault(int(files[start]), hashlib.sha256())
            digest.update(np.ascontiguousarray(drive[start:end]).tobytes())

    def repeated(self, files: tuple[str, ...]) -> list[tuple[str, str]]:
        """Names of files with the same samples: the first of them, and each later one.

        Args:
            files: Names of all files in order.
        """
        first: dict[bytes, int] = {}
        pairs = []
        for file, digest in sorted(self._digests.items()):
            known = first.setdefault(digest.digest(), file)
            if known != file:
                pairs.append((files[known], files[file]))
        return pairs
