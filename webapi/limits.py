"""Rate limits on uploads and submissions: a bucket for each caller, kept in this process.

Several web processes each keep their own buckets; the limit is meant against runaway scripts, not as an account.
"""

import threading
import time
from collections import OrderedDict
from typing import Final

_MOST_CALLERS: Final = 10_000


class RateLimit:
    """Lets each caller act so often a minute, with bursts up to the same number.

    Args:
        per_minute: Actions a minute, >= 1.
    """

    def __init__(self, per_minute: int) -> None:
        self._per_minute = per_minute
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, caller: str) -> float:
        """Take one action.

        Args:
            caller: Who acts.

        Returns:
            0 where it may, otherwise the seconds to wait.
        """
        now = time.monotonic()
        with self._lock:
            left, stamp = self._buckets.pop(caller, (float(self._per_minute), now))
            left = min(float(self._per_minute), left + (now - stamp) * self._per_minute / 60.0)
            allowed = left >= 1.0
            self._buckets[caller] = (left - 1.0 if allowed else left, now)
            while len(self._buckets) > _MOST_CALLERS:
                self._buckets.popitem(last=False)
        return 0.0 if allowed else (1.0 - left) * 60.0 / self._per_minute
