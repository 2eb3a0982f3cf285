"""Rate limits on uploads, submissions and checks: a bucket for each caller, shared by all web processes of a service.

The buckets lie in a small SQLite file that lives as long as the service. Its locks are the system's, which lets them go
when their holder is killed; a lock in shared memory would stay taken for ever. Services on several machines count each
for itself: the limit is meant against runaway scripts, not as an account.
"""

import sqlite3
import threading
import time
import weakref
from pathlib import Path
from typing import Final

_PATIENCE_S: Final = 10.0
_PREPARATION: Final = (
    "PRAGMA journal_mode=WAL",  # a process killed amid a write leaves a whole file
    "PRAGMA synchronous=OFF",  # after a crash of the system there is a new file anyway
    "CREATE TABLE IF NOT EXISTS buckets (kind, caller, actions REAL, stamp_s REAL, PRIMARY KEY (kind, caller))",
    "CREATE INDEX IF NOT EXISTS by_stamp ON buckets (kind, stamp_s)",
)


class RateLimit:
    """Lets each caller act so often a minute, with bursts up to the same number.

    Args:
        per_minute: Actions a minute, >= 1.
        kind: What is counted; buckets of different kinds in one file do not touch.
        file: Where web processes share the buckets; None keeps them in this process.
    """

    def __init__(self, per_minute: int, kind: str = "", file: Path | None = None) -> None:
        self._per_minute = per_minute
        self._kind = kind
        self._lock = threading.Lock()
        self._buckets = sqlite3.connect(
            ":memory:" if file is None else file, _PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        weakref.finalize(self, self._buckets.close)
        for statement in _PREPARATION:
            self._buckets.execute(statement)

    def wait_s(self, caller: str) -> float:
        """Take one action.

        Args:
            caller: Who acts.

        Returns:
            0 where it may, otherwise the seconds to wait.
        """
        with self._lock:
            self._buckets.execute("BEGIN IMMEDIATE")
            try:
                actions = self._refilled(caller, time.monotonic())
            finally:
                self._buckets.execute("COMMIT")
        return 0.0 if actions >= 1.0 else (1.0 - actions) * 60.0 / self._per_minute

    def _refilled(self, caller: str, now_s: float) -> float:
        """Actions in a caller's bucket before one is taken; the monotonic clock is one for the whole machine."""
        most = float(self._per_minute)
        # A bucket that nobody touched for a minute is full, which is what a missing one is.
        self._buckets.execute("DELETE FROM buckets WHERE kind = ? AND stamp_s < ?", (self._kind, now_s - 60.0))
        row = self._buckets.execute(
            "SELECT actions, stamp_s FROM buckets WHERE kind = ? AND caller = ?", (self._kind, caller)
        ).fetchone()
        actions = most if row is None else min(most, row[0] + max(0.0, now_s - row[1]) * most / 60.0)
        left = actions - 1.0 if actions >= 1.0 else actions
        self._buckets.execute("REPLACE INTO buckets VALUES (?, ?, ?, ?)", (self._kind, caller, left, now_s))
        return actions
