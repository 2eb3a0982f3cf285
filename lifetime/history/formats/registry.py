"""Which reader reads a file: found from its content, never from its name."""

import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Final

from lifetime.errors import HistoryError
from lifetime.history.formats import excel_reader, feather_reader, hdf5_reader, mat_reader, mdf_reader, parquet_reader
from lifetime.history.formats.bus_frames import are_frame_columns, are_frames, frames_refused
from lifetime.history.formats.csv_dialect import SAVE_AS
from lifetime.history.formats.csv_reader import CsvReader
from lifetime.history.formats.feather_reader import FeatherReader
from lifetime.history.formats.json_lines_reader import JsonLinesReader, is_json_lines
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.parquet_reader import ParquetReader
from lifetime.history.formats.reader import Reader
from lifetime.history.formats.text_bytes import PACKED, TextBytes

_HEAD_BYTES: Final = 4096
_JSON: Final = re.compile(rb"[{]|\[[\[{\"\d-]")
_WORKBOOK: Final = "xl/workbook.xml"


def reader_for(path: Path, label: str, layout: Layout = AS_FOUND) -> Reader:
    """Open the reader that fits a file.

    Args:
        path: The file.
        label: Its name as the user gave it, for messages.
        layout: What the study states about the file's layout.

    Raises:
        HistoryError: The file is missing, a directory, not readable, or in a format not read here.
        MissingPackageError: The format needs an optional package.
    """
    head = _head(path, label)
    if head.startswith(excel_reader.MAGIC):
        _require_workbook(path, label)
    for magic, opener in _OPENERS.items():
        if head.startswith(magic):
            return opener(path, label, layout)
    if mat_reader.is_version_4(head):
        return mat_reader.open_mat(path, label)
    text = _unpacked_head(path, label) if head.startswith(PACKED) else head
    if _may_be_json_lines(text) and is_json_lines(path, label):
        return JsonLinesReader.open(path, label)
    _refuse_known(text, label)
    reader = CsvReader.open(path, label, layout)
    if are_frame_columns(reader.columns):
        raise frames_refused(label)
    return reader


_OPENERS: Final[dict[bytes, Callable[[Path, str, Layout], Reader]]] = {
    parquet_reader.MAGIC: lambda path, label, _: ParquetReader.open(path, label),
    feather_reader.MAGIC: lambda path, label, _: FeatherReader.open(path, label),
    mat_reader.MAGIC: lambda path, label, _: mat_reader.open_mat(path, label),
    hdf5_reader.MAGIC: lambda path, label, _: hdf5_reader.open_hdf5(path, label),
    hdf5_reader.MATLAB_MAGIC: lambda path, label, _: hdf5_reader.open_hdf5(path, label),
    excel_reader.MAGIC: excel_reader.open_excel,
    **dict.fromkeys(mdf_reader.MAGICS, mdf_reader.open_mdf),
}


def is_text_or_parquet(path: Path, label: str) -> bool:
    """Tell from its first bytes whether a file is plain text or Parquet, without opening it any further.

    Args:
        path: The file.
        label: Its name as the user gave it, for messages.

    Raises:
        HistoryError: The file cannot be read, or is of a kind known and not read here.
    """
    head = _head(path, label)
    if head.startswith(parquet_reader.MAGIC):
        return True
    if mat_reader.is_version_4(head) or (_may_be_json_lines(head) and is_json_lines(path, label)):
        return False
    _refuse_known(head, label)
    return not head.startswith((*_OPENERS, *PACKED))


def _head(path: Path, label: str) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(_HEAD_BYTES)
    except FileNotFoundError:
        raise HistoryError(
            "the file does not exist.", file=label, remedy="Check the path; in a study it starts from the study file."
        ) from None
    except IsADirectoryError:
        raise HistoryError("this is a directory, not a file.", file=label, remedy="Name the file inside it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise HistoryError(
            f"the file cannot be read ({reason}).", file=label, remedy="Check its name and its access rights."
        ) from None


def _unpacked_head(path: Path, label: str) -> bytes:
    source = TextBytes.of(path, label)
    with source.open() as file:
        return source.read(file, _HEAD_BYTES)


def _may_be_json_lines(head: bytes) -> bool:
    return _bare(head).startswith(b"{")


def _bare(head: bytes) -> bytes:
    """The text without byte-order mark and wide characters, as far as that needs no decoding."""
    return head.replace(b"\x00", b"").lstrip(b"\xff\xfe\xef\xbb\xbf \t\r\n")


def _require_workbook(path: Path, label: str) -> None:
    """Refuse any archive but a workbook."""
    try:
        with zipfile.ZipFile(path) as archive:
            if _WORKBOOK in archive.namelist():
                return
    except (zipfile.BadZipFile, OSError) as error:
        raise HistoryError(
            f"the archive is cut or damaged ({error}).", file=label, remedy="Copy or export it again."
        ) from None
    raise HistoryError(
        "this is a zip archive, perhaps a cycler's own binary file, and no workbook.",
        file=label,
        remedy=f"Unpack it, or open it with the instrument's software. {SAVE_AS}",
    )


def _refuse_known(head: bytes, label: str) -> None:
    """Refuse what is known and not read, with what to export instead."""
    start = _bare(head)
    if start.startswith(b"Title:") and b"Plotname:" in start:
        raise HistoryError(
            "this is a circuit simulator's waveform file.",
            file=label,
            remedy="Export the waveforms you need as text (time and the signals, one row a point) and name that file.",
        )
    if are_frames(start):
        raise frames_refused(label)
    if _JSON.match(b"".join(start[:100].split())):
        raise HistoryError(
            "this is a JSON document, not a table.",
            file=label,
            remedy=f"Open it with the program that wrote it. {SAVE_AS} JSON lines are read: one object a line.",
        )
    if b"\x1a" in head[:64] and not head.isascii() and not head.startswith(PACKED):
        raise HistoryError(
            "this is an instrument's own binary file.",
            file=label,
            remedy=f"Open it with the instrument's software. {SAVE_AS}",
        )
