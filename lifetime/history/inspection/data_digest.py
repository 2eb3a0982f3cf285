"""The hash of the checked values, made in a thread of its own while the pass over the file goes on."""

import hashlib
from collections import deque
from collections.abc import Iterable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Final, Self

import numpy as np

from lifetime.checks import FloatArray
from lifetime.units import Quantity

_MOST_WAITING: Final = 2


class DataDigest:
    """Hashes every quantity of a stream; the same for the same data in any format, column order or unit.

    Args:
        quantities: What the stream carries.
    """

    def __init__(self, quantities: Iterable[Quantity]) -> None:
        self._hashes = {quantity: hashlib.sha256() for quantity in quantities}
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="digest")
        self._waiting: deque[Future[None]] = deque()

    def __enter__(self) -> Self:
        """Begin."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the thread, whether the pass came to its end or not."""
        self._pool.shutdown(wait=True, cancel_futures=kind is not None)

    def add(self, channels: Mapping[Quantity, FloatArray]) -> None:
        """Add a stretch, which must not be changed afterwards; it waits while two others are still to be hashed.

        Args:
            channels: Values in SI by quantity.
        """
        self._waiting.append(self._pool.submit(self._update, channels))
        while len(self._waiting) > _MOST_WAITING:
            self._waiting.popleft().result()

    def _update(self, channels: Mapping[Quantity, FloatArray]) -> None:
        for quantity, values in channels.items():
            self._hashes[quantity].update(np.ascontiguousarray(values, dtype="<f8").data)

    def hexdigest(self) -> str:
        """Hash of all values so far, in hexadecimal."""
        while self._waiting:
            self._waiting.popleft().result()
        whole = hashlib.sha256()
        for quantity in sorted(self._hashes):
            whole.update(f"{quantity}:{self._hashes[quantity].hexdigest()};".encode())
        return whole.hexdigest()
