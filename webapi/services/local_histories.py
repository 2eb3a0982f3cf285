"""Histories of the user's own machine on their way into the store, so that an assessment can be run again without them.

Plain text and Parquet are stored as they are. Other formats, which may hold far more than a study reads, and many files
as one are stored as the checked samples in SI, which give the same history.
"""

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from sqlalchemy.orm import Session

from lifetime.history.block import Samples
from lifetime.history.cleaning.gaps import RestGaps
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.formats.files import is_pattern
from lifetime.history.formats.registry import is_text_or_parquet
from lifetime.history.inspection.survey import Survey
from lifetime.history.open import open_stream
from lifetime.history.spec import HistoryInput
from webapi.services import histories
from webapi.services.shelf import LAYOUT_KEYS
from webapi.settings import UploadLimits
from webapi.store import HistoryStore

ANY_SIZE: Final = UploadLimits(2**62, 2**62, 1e9, 1_000_000, 2**62, 2**62)
"""A file of the user's own machine was already read and assessed; no limit for strangers applies."""

_COLUMNS: Final = {
    "time": "time_s",
    "current": "current_A",
    "power": "power_W",
    "voltage": "voltage_V",
    "temperature": "temperature_K",
    "speed": "speed_m_s",
}
_KEPT_KEYS: Final = ("interpolation", "ambient_C", "clean")


def keep_history(
    session: Session, store: HistoryStore, spec: HistoryInput, base: Path, cells: tuple[int, int]
) -> dict[str, Any]:
    """Store a history and describe it as a study of the service would.

    Args:
        session: Where.
        store: Where the numbers go.
        spec: The study's description.
        base: Folder that its path starts from.
        cells: Cells in series and parallel that a history of one cell stands for.

    Returns:
        The description with the stored history's id in place of a path, as plain data.

    Raises:
        HistoryError: The files are no longer there as they were.
        StoreError: There is no room.
    """
    if _is_plain(spec, base):
        row, _ = histories.add_upload(session, store, base / spec.file, spec.file, ANY_SIZE)
        return {**spec.model_dump(mode="json", exclude_unset=True, exclude_none=True), "file": row.id}
    stream, _ = open_stream(spec, base, series=cells[0], parallel=cells[1])
    quantities = stream.quantities
    with tempfile.TemporaryDirectory(dir=store.workspace()) as folder:
        path = Path(folder) / "checked.parquet"
        _write(_settled(stream) if is_pattern(spec.file) else stream.samples(), quantities, path)
        row, _ = histories.add_upload(session, store, path, f"{spec.file} (checked)", ANY_SIZE)
    given = spec.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    kept: dict[str, Any] = {key: given[key] for key in _KEPT_KEYS if key in given}
    if is_pattern(spec.file) and not {"bridge_gaps", "rest_in_gaps"} & set(spec.clean):
        kept["clean"] = [*spec.clean, "rest_in_gaps"]  # the source rests between files, and there is only one now
    return {"file": row.id, **{name: _COLUMNS[name] for name in quantities}, **kept}


def _is_plain(spec: HistoryInput, base: Path) -> bool:
    if is_pattern(spec.file) or any(getattr(spec, key) is not None for key in LAYOUT_KEYS):
        return False
    return spec.quantities_of == "pack" and is_text_or_parquet(base / spec.file, spec.file)


def _settled(stream: SampleStream) -> Iterator[Samples]:
    """The samples with zeros where the source rests between two files."""
    limit_s = Survey(stream).run().steps.gap_limit_s
    return RestGaps(limit_s, within_files=False, between_files=True).settle(stream.samples())


def _write(samples: Any, quantities: tuple[str, ...], path: Path) -> None:
    import pyarrow as pa  # noqa: PLC0415 - slow import
    from pyarrow import parquet  # noqa: PLC0415

    schema = pa.schema([(_COLUMNS[name], pa.float64()) for name in quantities])
    with parquet.ParquetWriter(path, schema) as writer:
        for stretch in samples:
            columns = [pa.array(stretch.channels[name], pa.float64()) for name in quantities]
            writer.write_batch(pa.record_batch(columns, schema=schema))
