"""Histories opened as a study describes them: the one way for files, for stored histories and for every caller."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.history.assembly import build_history
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.formats.files import files_sha256, is_pattern, open_readers
from lifetime.history.formats.joined_files import JoinedReader
from lifetime.history.formats.layout import Layout
from lifetime.history.formats.reader import Reader
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput


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
    return surveyed_history(spec, stream, paths=paths, sha256=lambda: files_sha256(paths))


def surveyed_history(
    spec: HistoryInput, stream: SampleStream, *, paths: tuple[Path, ...], sha256: Callable[[], str]
) -> History:
    """Survey opened samples once and make them a history, wherever they were opened.

    Args:
        spec: The study's description of the history.
        stream: The samples, as ``open_stream`` or ``SampleStream.of_spec`` gives them.
        paths: The files they come from; a change of one while the history is in use is refused.
        sha256: Gives the hash of the content, in hexadecimal.

    Raises:
        HistoryError: The samples cannot be used as they are.
    """
    return build_history(
        stream,
        interpolation=spec.interpolation,
        ambient_K=None if spec.ambient_C is None else spec.ambient_C + ZERO_CELSIUS_K,
        sha256=sha256,
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
    readers = open_readers(spec.file, base_dir, _layout(spec, base_dir))
    if is_pattern(spec.file) and spec.files_follow == "by_time":
        readers = dict(sorted(readers.items(), key=lambda opened: _first_time_s(spec, opened[1])))
    reader = _joined(spec, tuple(readers.values())) if is_pattern(spec.file) else next(iter(readers.values()))
    return SampleStream.of_spec(spec, reader, series=series, parallel=parallel), tuple(readers)


def _layout(spec: HistoryInput, base_dir: Path) -> Layout:
    database = None if spec.bus_database is None else base_dir / spec.bus_database
    return Layout(spec.header_row, spec.decimal, spec.sheet, database)


def _joined(spec: HistoryInput, readers: tuple[Reader, ...]) -> JoinedReader:
    columns, time = readers[0].columns, spec.time.strip()
    continued = spec.files_follow == "one_after_another" and time in columns  # a missing column is refused by its role
    return JoinedReader(spec.file, readers, columns.index(time) if continued else None)


def _first_time_s(spec: HistoryInput, reader: Reader) -> float:
    stream = SampleStream.of_spec(spec, reader)
    unsorted = replace(stream, clean=stream.clean - {"sort_by_time"})
    return next((float(samples.time_s[0]) for samples in unsorted.samples()), float("inf"))
