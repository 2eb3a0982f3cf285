"""Files and folders of the service, which nobody else on the machine may read, and which survive a power cut."""

import os
import shutil
import stat
import time
from contextlib import suppress
from pathlib import Path
from typing import Final

_FILE: Final = 0o600
_FOLDER: Final = 0o700
_OTHERS_WRITE: Final = stat.S_IWGRP | stat.S_IWOTH


def make_folder(path: Path) -> None:
    """Make a folder and those above it that are missing, each for this user alone; those that exist stay as they are.

    Args:
        path: The folder.

    Raises:
        OSError: One cannot be made.
    """
    missing = [one for one in (path, *path.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(mode=_FOLDER, exist_ok=True)
        sync_folder(one.parent)


def make_file(path: Path) -> None:
    """Make an empty file for this user alone, unless it is there.

    Args:
        path: The file.

    Raises:
        OSError: It cannot be made.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, _FILE))


def place(source: Path, target: Path) -> None:
    """Move a finished file to its place, for this user alone, so that it is there whole even after a power cut.

    Args:
        source: On the same disk.
        target: Where it belongs; its folder is made.

    Raises:
        OSError: There is no room, or no right to write.
    """
    make_folder(target.parent)
    source.chmod(_FILE)
    with source.open("rb") as file:
        os.fsync(file.fileno())
    source.replace(target)
    sync_folder(target.parent)


def sync_folder(path: Path) -> None:
    """Have the entries of a folder written to disk, where the system can.

    Args:
        path: The folder.
    """
    with suppress(OSError):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def is_own(path: Path) -> bool:
    """True where a folder belongs to this user and nobody else may write to it.

    Args:
        path: An existing folder, not a link to one.
    """
    found = path.lstat()
    if not hasattr(os, "geteuid"):
        return stat.S_ISDIR(found.st_mode)
    return stat.S_ISDIR(found.st_mode) and found.st_uid == os.geteuid() and not found.st_mode & _OTHERS_WRITE


def remove_abandoned(folder: Path, silent_s: float) -> int:
    """Remove what nothing has touched for a while.

    Args:
        folder: The folder to go through; it may be missing.
        silent_s: How long nothing touched an entry or what it holds [s].

    Returns:
        How many entries were removed.
    """
    removed = 0
    for entry in folder.iterdir() if folder.is_dir() else ():
        with suppress(OSError):
            last = max(one.lstat().st_mtime for one in (entry, *entry.glob("**/*")))
            if time.time() - last < silent_s:
                continue
            if entry.is_dir() and not entry.is_symlink():
                shutil.rmtree(entry)
            else:
                entry.unlink()
            removed += 1
    return removed
