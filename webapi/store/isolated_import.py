"""Taking a stranger's file in within a process of its own, with limits of time and memory.

What a file does to the libraries that read it then ends that process and nothing else. The process gets no secrets: its
environment is made anew, and it knows neither database nor store, only the two files and the limits.
"""

import errno
import json
import logging
import os
import signal
import subprocess
import sys
import threading
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from lifetime.errors import HistoryError, MissingPackageError
from lifetime.history.formats.layout import AS_FOUND, Layout
from webapi.errors import LimitError, ReadingError, StoreError
from webapi.settings import ReadingLimits, UploadLimits
from webapi.store.intake import Intake, take_in
from webapi.store.reading_slots import TOO_MANY, reading_slot

_IN_LINE: Final = threading.BoundedSemaphore(3)
"""Whoever reads or waits holds a thread of its web process, which has others to answer; the next may come again."""
_PASSED_ON: Final = ("PATH", "LANG", "LC_ALL", "TZ", "LD_LIBRARY_PATH", "SYSTEMROOT")
_LAST_WORDS: Final = 2_000


def take_in_apart(
    source: Path,
    target: Path,
    label: str,
    limits: UploadLimits,
    reading: ReadingLimits,
    folder: Path,
    layout: Layout = AS_FOUND,
) -> Intake:
    """Do what ``take_in`` does, in a process that may take so much time and memory.

    Args:
        source: The file uploaded.
        target: Where the file for the store is written.
        label: The file's name as the user gave it, for messages.
        limits: What it may measure.
        reading: What reading it may take.
        folder: An empty folder of this upload alone, for what the process says and what libraries lay aside.
        layout: What is stated about the file's layout.

    Raises:
        HistoryError: It cannot be read as a history.
        LimitError: It is too large, or reading it takes too long or too much memory.
        MissingPackageError: The format needs an optional package.
        ReadingError: Reading it ended in a way that nobody foresaw.
        StoreError: Too many files are being read, or there is no room.
    """
    order = {
        "source": str(source.resolve()),
        "target": str(target.resolve()),
        "answer": str((folder / "answer.json").resolve()),
        "label": label,
        "limits": asdict(limits),
        "reading": asdict(reading),
        "layout": asdict(layout),
    }
    if not _IN_LINE.acquire(blocking=False):
        raise StoreError(TOO_MANY)
    try:
        with reading_slot(folder.parent, reading.seconds):
            code, words = _run(order, folder, reading.seconds)
    finally:
        _IN_LINE.release()
    if code is None or code == -getattr(signal, "SIGXCPU", 0):
        raise LimitError(
            f"{label}: reading the file takes longer than the {reading.seconds:g} s allowed. Shorten it, or leave out "
            "columns that no study needs."
        )
    answer = _answer(folder / "answer.json") if code == 0 else {"error": "unforeseen"}
    if "error" in answer:
        raise _error(answer, label, f"exit code {code}: {words}", reading)
    return Intake(**answer)


def _run(order: dict[str, Any], folder: Path, seconds: float) -> tuple[int | None, str]:
    """Run the process: its exit code, None where it was stopped, and the end of what it said."""
    environment = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
    environment["PYTHONPATH"] = os.pathsep.join(one for one in sys.path if one)
    # Numbers of this size need no pool of their own, and one that reserves memory ahead would hit the limit early.
    environment |= {"ARROW_DEFAULT_MEMORY_POOL": "system", "OPENBLAS_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2"}
    # What libraries lay aside goes with the upload's folder, however the process ends.
    environment |= {"PYTHONUTF8": "1", "TMPDIR": str(folder.resolve())}
    words = folder / "words"
    with words.open("wb") as said:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "webapi.store.isolated_import"],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=said,
            env=environment,
        )
        try:
            process.communicate(json.dumps(order).encode(), timeout=2.0 * seconds)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            return None, ""
    return process.returncode, words.read_bytes()[-_LAST_WORDS:].decode("utf-8", "replace")


def _answer(path: Path) -> dict[str, Any]:
    try:
        found: dict[str, Any] = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return {"error": "unforeseen"}
    return found


def _error(answer: dict[str, Any], label: str, words: str, reading: ReadingLimits) -> Exception:
    facts = answer.get("facts", {})
    match answer["error"]:
        case "history":
            return HistoryError(facts.pop("problem"), **facts)
        case "limit":
            return LimitError(facts["message"])
        case "package":
            return MissingPackageError(**facts)
        case "room":
            return StoreError(facts["message"])
        case "memory":
            return LimitError(
                f"{label}: reading the file takes more than the {reading.memory_bytes} bytes of memory allowed. "
                "Shorten it, or leave out columns that no study needs."
            )
        case _:
            logging.getLogger("packwear").error("reading failed", extra={"facts": {"words": words}})
            return ReadingError(label)


def main() -> None:
    """Do what the order on standard input says, within its limits, and write the answer beside it."""
    order = json.loads(sys.stdin.buffer.read())
    os.umask(0o077)
    limits = UploadLimits(**order["limits"])
    _limit(ReadingLimits(**order["reading"]), limits.unpacked_bytes)
    answer: dict[str, Any]
    try:
        layout = Layout(**order["layout"])
        taken = take_in(Path(order["source"]), Path(order["target"]), order["label"], limits, layout)
        answer = asdict(taken)
    except HistoryError as error:
        facts = {name: getattr(error, name) for name in ("problem", "file", "row", "column", "remedy")}
        answer = {"error": "history", "facts": facts}
    except LimitError as error:
        answer = {"error": "limit", "facts": {"message": str(error)}}
    except MemoryError:
        answer = {"error": "memory"}
    except MissingPackageError as error:
        facts = {"what": error.what, "package": error.package, "extra": error.extra}
        answer = {"error": "package", "facts": facts}
    except OSError as error:
        answer = _no_room(error, order["label"])
    Path(order["answer"]).write_text(json.dumps(answer, default=lambda value: value.tolist()), encoding="utf-8")


def _no_room(error: OSError, label: str) -> dict[str, Any]:
    if error.errno == errno.EFBIG:
        words = (
            f"{label}: reading the file writes more than the unpacked size allowed. Shorten it, or leave out columns "
        )
        return {"error": "limit", "facts": {"message": f"{words}that no study needs."}}
    reason = error.strerror or str(error).splitlines()[0]
    message = f"The history cannot be stored ({reason}). Nothing was kept; free some room, then upload again."
    return {"error": "room", "facts": {"message": message}}


def _limit(reading: ReadingLimits, written_bytes: int) -> None:
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return  # the time limit of the process that waits still holds
    seconds = max(1, round(reading.seconds))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_AS, (reading.memory_bytes, reading.memory_bytes))
    resource.setrlimit(resource.RLIMIT_FSIZE, (written_bytes, written_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


if __name__ == "__main__":
    main()
