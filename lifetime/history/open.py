"""Open a history file as a study describes it."""

import hashlib
from pathlib import Path

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.history.build import build_history
from lifetime.history.channels import find_channels
from lifetime.history.clean import SampleStream
from lifetime.history.formats import reader_for
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput


def open_history(spec: HistoryInput, base_dir: Path) -> History:
    """Open a history file, check it from its first row to its last, and make it a history.

    The format is found from the content. One pass over the file finds every fault that would spoil counting; a long
    file is then streamed anew by each call of ``History.blocks``.

    Args:
        spec: The study's description of the history.
        base_dir: Directory that relative paths are relative to.

    Raises:
        HistoryError: The file cannot be read as the study says; the message names file, row, column and remedy.
    """
    path = base_dir / spec.file
    reader = reader_for(path, spec.file)
    stream = SampleStream(reader, find_channels(spec, reader), spec.discharge_is, frozenset(spec.clean))
    return build_history(
        stream,
        interpolation=spec.interpolation,
        ambient_K=None if spec.ambient_C is None else spec.ambient_C + ZERO_CELSIUS_K,
        sha256=lambda: file_sha256(path),
        path=path,
        stated_sign="discharge_is" in spec.model_fields_set,
    )


def file_sha256(path: Path) -> str:
    """Hash of a file's content, SHA-256 in hexadecimal.

    Args:
        path: The file.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
