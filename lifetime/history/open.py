"""Open the files of a history as a study describes them."""

import hashlib
import re
from pathlib import Path
from typing import Final

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import HistoryError
from lifetime.history.build import build_history
from lifetime.history.channels import find_channels
from lifetime.history.clean import SampleStream
from lifetime.history.derive import Derivation
from lifetime.history.formats import reader_for
from lifetime.history.joined import JoinedReader
from lifetime.history.layout import Layout
from lifetime.history.model import History
from lifetime.history.reader import Reader
from lifetime.history.spec import HistoryInput

_PATTERN: Final = re.compile(r"[*?]")
_DIGITS: Final = re.compile(r"(\d+)")


def open_history(spec: HistoryInput, base_dir: Path, *, series: int = 1, parallel: int = 1) -> History:
    """Open the file or files of a history, check them from the first row to the last, and make them a history.

    The format is found from the content. One pass finds every fault that would spoil counting; a long history is then
    streamed anew by each call of ``History.blocks``.

    Args:
        spec: The study's description of the history.
        base_dir: Directory that relative paths are relative to.
        series: Cells in series of the pack, for quantities of one cell.
        parallel: Cells in parallel of the pack, for quantities of one cell.

    Raises:
        HistoryError: The files cannot be read as the study says; the message names file, row, column and remedy.
        MissingPackageError: The format needs an optional package.
    """
    stream, paths = open_stream(spec, base_dir, series=series, parallel=parallel)
    return build_history(
        stream,
        interpolation=spec.interpolation,
        ambient_K=None if spec.ambient_C is None else spec.ambient_C + ZERO_CELSIUS_K,
        sha256=lambda: files_sha256(paths),
        paths=paths,
        stated_sign="discharge_is" in spec.model_fields_set,
    )


def open_stream(
    spec: HistoryInput, base_dir: Path, *, series: int = 1, parallel: int = 1
) -> tuple[SampleStream, tuple[Path, ...]]:
    """Open the samples of a history, checked while they stream, before gaps are settled.

    Args:
        spec: The study's description of the history.
        base_dir: Directory that relative paths are relative to.
        series: Cells in series of the pack, for quantities of one cell.
        parallel: Cells in parallel of the pack, for quantities of one cell.

    Returns:
        The samples, and the files they come from in order.

    Raises:
        HistoryError: The files cannot be opened as the study says.
        MissingPackageError: The format needs an optional package.
    """
    paths = find_files(spec.file, base_dir)
    layout = layout_of(spec, base_dir)
    derivation = derivation_of(spec, series=series, parallel=parallel)
    reader: Reader
    if is_pattern(spec.file):
        opened = [(path, reader_for(path, path.name, layout)) for path in paths]
        if spec.files_follow == "by_time":
            opened.sort(key=lambda pair: _first_time_s(spec, pair[1], derivation))
            paths = tuple(path for path, _ in opened)
        readers = tuple(one for _, one in opened)
        on_from = readers[0].columns.index(spec.time.strip()) if spec.files_follow == "one_after_another" else None
        reader = JoinedReader(spec.file, readers, on_from)
    else:
        reader = reader_for(paths[0], spec.file, layout)
    return SampleStream(reader, find_channels(spec, reader), derivation, frozenset(spec.clean)), paths


def is_pattern(file: str) -> bool:
    """Tell whether a name stands for several files.

    Args:
        file: As the study gives it.
    """
    return _PATTERN.search(file) is not None


def find_files(file: str, base_dir: Path) -> tuple[Path, ...]:
    """The file named, or all that fit a pattern in the order of their names, numbers counted as numbers.

    Args:
        file: As the study gives it.
        base_dir: Directory that a relative path is relative to.

    Raises:
        HistoryError: No file fits the pattern.
    """
    if not is_pattern(file):
        return (base_dir / file,)
    path = Path(file)
    root = Path(path.anchor) if path.is_absolute() else base_dir
    pattern = str(path.relative_to(path.anchor)) if path.is_absolute() else file
    found = [one for one in root.glob(pattern) if one.is_file()]
    if not found:
        raise HistoryError("no file fits this pattern.", file=file, remedy="Check the folder and the pattern.")
    return tuple(sorted(found, key=_natural))


def layout_of(spec: HistoryInput, base_dir: Path) -> Layout:
    """What the study states about the files' layout.

    Args:
        spec: The study's description of the history.
        base_dir: Directory that relative paths are relative to.
    """
    database = None if spec.bus_database is None else base_dir / spec.bus_database
    return Layout(spec.header_row, spec.decimal, spec.sheet, database)


def derivation_of(spec: HistoryInput, *, series: int, parallel: int) -> Derivation:
    """What the study says the columns mean.

    Args:
        spec: The study's description of the history.
        series: Cells in series of the pack.
        parallel: Cells in parallel of the pack.
    """
    of_cell = spec.quantities_of == "cell"
    return Derivation(
        discharge_is=spec.discharge_is,
        time_zone=spec.time_zone,
        current_from_power=spec.current_from_power,
        current_offset_A=spec.current_offset_A,
        series=series if of_cell else 1,
        parallel=parallel if of_cell else 1,
    )


def files_sha256(paths: tuple[Path, ...]) -> str:
    """Hash of the files' content, SHA-256 in hexadecimal; of several files the hash of their hashes.

    Args:
        paths: The files, in order.
    """
    hashes = []
    for path in paths:
        with path.open("rb") as file:
            hashes.append(hashlib.file_digest(file, "sha256").hexdigest())
    return hashes[0] if len(hashes) == 1 else hashlib.sha256("".join(hashes).encode()).hexdigest()


def _first_time_s(spec: HistoryInput, reader: Reader, derivation: Derivation) -> float:
    stream = SampleStream(reader, find_channels(spec, reader), derivation, frozenset(spec.clean) - {"sort_by_time"})
    return next((float(samples.time_s[0]) for samples in stream.samples()), float("inf"))


def _natural(path: Path) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (-1, part) for part in _DIGITS.split(str(path))]
