"""How many uploads are read at once on this machine: memory and time are limited for each, so their number is too.

A slot is a locked file beside the unfinished ones. The system lets go of the lock when its holder is killed, so no slot
is ever lost, and all web processes of a machine share them.
"""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from webapi.errors import StoreError

TOO_MANY: Final = "Too many files are being read at the moment. Upload again in a few minutes."
_SLOTS: Final = 2
_LOOK_S: Final = 0.1


@contextmanager
def reading_slot(folder: Path, patience_s: float) -> Iterator[None]:
    """Hold one of the slots; where locks of files are missing, as on Windows, there is always one.

    Args:
        folder: The store's folder of unfinished files.
        patience_s: How long to wait for a free one [s].

    Raises:
        StoreError: All were taken for so long.
    """
    try:
        import fcntl  # noqa: PLC0415, F401 - not on every system
    except ImportError:
        yield
        return
    until_s = time.monotonic() + patience_s
    while (taken := _taken(folder)) is None:
        if time.monotonic() >= until_s:
            raise StoreError(TOO_MANY)
        time.sleep(_LOOK_S)
    path, slot = taken
    try:
        yield
    finally:
        path.unlink(missing_ok=True)
        os.close(slot)


def _taken(folder: Path) -> tuple[Path, int] | None:
    """A slot that was free, with its lock; None where all are held."""
    import fcntl  # noqa: PLC0415 - not on every system

    for number in range(_SLOTS):
        path = folder / f"reading-{number}"
        slot = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        with suppress(OSError):  # held by another, or removed by its last holder since we opened it
            fcntl.flock(slot, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if os.path.samestat(os.fstat(slot), path.stat()):
                return path, slot
        os.close(slot)
    return None
