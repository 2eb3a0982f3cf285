"""Bodies of answers that never change, kept for the next caller."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

_MOST_BYTES: Final = 32_000_000


class Bodies:
    """The bodies asked for last, up to 32 MB in one process."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, bytes] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def body(self, tag: str, make: Callable[[], bytes]) -> bytes:
        """A body, made where it is not kept.

        Args:
            tag: Stands for its content.
            make: Makes it.
        """
        with self._lock:
            if tag in self._kept:
                self._kept.move_to_end(tag)
                return self._kept[tag]
        made = make()
        with self._lock:
            if tag not in self._kept:
                self._kept[tag] = made
                self._bytes += len(made)
            while self._bytes > _MOST_BYTES:
                self._bytes -= len(self._kept.popitem(last=False)[1])
        return made
