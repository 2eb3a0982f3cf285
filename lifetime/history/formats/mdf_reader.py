"""Measurement files by the ASAM MDF standard, version 4, frames of a vehicle bus decoded where a data base is named."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError, MissingPackageError
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.tables import Column, TableReader, in_slabs
from lifetime.notices import Notice

MAGICS: Final = (b"MDF     ", b"UnFinMF ")
TIME: Final = "time [s]"
_TOLERANCE: Final = 1e-6
"""Times this close, as a share of a step, are one: a raster counted up and one multiplied out differ in a digit."""


@dataclass(frozen=True, slots=True)
class MdfArrays:
    """Reads channels of one measurement file; they are kept in memory, as the library allows nothing else.

    Args:
        path: The file.
        label: Its name as the user gave it.
        bus_database: The bus's data base, or None.
        places: Group and index of each channel by the name a study uses.
    """

    path: Path
    label: str
    bus_database: Path | None
    places: dict[str, tuple[int, int]]

    def slabs(self, columns: Sequence[str], texts: Sequence[bool]) -> Iterator[tuple[FloatArray | list[str], ...]]:
        """Stream channels on the raster of the first one that is not the time.

        A channel of another raster keeps its last value; before its first and after its end it is not known.

        Args:
            columns: Names wanted.
            texts: Has no meaning here.

        Raises:
            HistoryError: The file is damaged.
        """
        del texts
        with _opened(self.path, self.label, self.bus_database) as mdf:
            signals = [None if name == TIME else mdf.get(group=g, index=i) for name, (g, i) in self._named(columns)]
            base = next((s for s in signals if s is not None), None)
            times = mdf.get_master(self._longest_group(mdf)) if base is None else base.timestamps
            raster = np.asarray(times, dtype=np.float64)
            channels = [raster if s is None else held_on(raster, s.timestamps, s.samples) for s in signals]
        yield from in_slabs(channels)

    def _longest_group(self, mdf: Any) -> int:
        """The group with the most rows, whose times are looked at where times alone are wanted."""
        groups = sorted({group for group, _ in self.places.values()})
        return max(groups, key=lambda group: int(mdf.groups[group].channel_group.cycles_nr), default=0)

    def _named(self, columns: Sequence[str]) -> list[tuple[str, tuple[int, int]]]:
        return [(name, self.places.get(name, (0, 0))) for name in columns]


def held_on(raster_s: FloatArray, times_s: FloatArray, values: FloatArray) -> FloatArray:
    """Values on another raster: the last one known; NaN before the first, and later than a step after the last.

    A channel that ends earlier than others has no value there: to keep its last one would invent a current. How long
    the last value holds is the longest step the channel ever made.

    Args:
        raster_s: Times wanted [s], increasing.
        times_s: Times of the values [s], increasing.
        values: Values, as many as ``times_s``.

    Returns:
        float64, as many as ``raster_s``.
    """
    numbers = np.asarray(values, dtype=np.float64)
    if times_s.size == raster_s.size and np.array_equal(times_s, raster_s):
        return numbers
    steps = np.diff(raster_s)
    slack = _TOLERANCE * float(np.median(steps)) if steps.size else 0.0
    at = np.searchsorted(np.asarray(times_s, dtype=np.float64), raster_s + slack, side="right") - 1
    latest = numbers[np.maximum(at, 0)]
    own_steps = np.diff(times_s)
    end_s = float(times_s[-1] + own_steps.max()) if own_steps.size else np.inf
    return np.where((at >= 0) & (raster_s <= end_s + slack), latest, np.nan)


def open_mdf(path: Path, label: str, layout: Layout = AS_FOUND) -> TableReader:
    """Look at the channels of a measurement file.

    Args:
        path: The file.
        label: Its name as the user gave it.
        layout: The bus's data base, where raw frames are to be decoded.

    Raises:
        HistoryError: The file is damaged, or has no channel of numbers.
        MissingPackageError: The package for measurement files is not installed.
    """
    columns, places, frames = [], {}, 0
    with _opened(path, label, layout.bus_database) as mdf:
        for group, index, channel, rows in _channels(mdf):
            if channel.name.startswith(("CAN_DataFrame", "CAN_ErrorFrame", "CAN_RemoteFrame")):
                frames = max(frames, rows)
            name = _name(channel, mdf, group, index)
            if name in places:
                name = f"{name} (group {group + 1})"
            columns.append(Column(name, rows))
            places[name] = (group, index)
    if layout.bus_database is not None and not columns:
        raise HistoryError(
            f"no frame could be decoded with {layout.bus_database.name}.",
            file=label,
            remedy="Check that the data base belongs to this bus; answers of several frames are not put together here: "
            "decode them first.",
        )
    if not columns:
        raise HistoryError("the file has no channel of numbers.", file=label, remedy="Check what was recorded.")
    rows = max(column.rows for column in columns)
    # All channels may be asked for together: those of another raster are held on that of the first.
    listed = tuple(Column(column.name, rows) for column in (Column(TIME, rows), *columns))
    notices = _notices(label, frames, layout)
    arrays = MdfArrays(path, label, layout.bus_database, places)
    return TableReader(label, "MDF 4", "", listed, arrays, notices)


def _notices(label: str, frames: int, layout: Layout) -> tuple[Notice, ...]:
    if frames and layout.bus_database is None:
        text = (
            f"{label}: the file contains {frames} raw frames of a vehicle bus. To read signals from them, add "
            'bus_database = "FILE.dbc" to the history.'
        )
        return (Notice("raw_frames", text),)
    return ()


def _channels(mdf: Any) -> Iterator[tuple[int, int, Any, int]]:
    for number, group in enumerate(mdf.groups):
        rows = int(group.channel_group.cycles_nr)
        masters = {mdf.masters_db.get(number)}
        for index, channel in enumerate(group.channels):
            if index in masters or rows < 2:
                continue
            samples = mdf.get(group=number, index=index, record_offset=0, record_count=1).samples
            if samples.dtype.kind in "biuf" and samples.ndim == 1 and not samples.dtype.names:
                yield number, index, channel, rows


def _name(channel: Any, mdf: Any, group: int, index: int) -> str:
    unit = (mdf.get_channel_unit(group=group, index=index) or "").strip()
    return f"{channel.name} [{unit}]" if unit else str(channel.name)


def _close_half_made(error: Exception) -> None:
    """Close what the library left half made when it failed; its own clean-up would fail again, with noise."""
    trace = error.__traceback__
    while trace is not None:
        maker: Any = trace.tb_frame.f_locals.get("self")
        if hasattr(maker, "identification") or type(maker).__name__.startswith("MDF"):
            file = getattr(maker, "_file", None)
            if file is not None:
                file.close()
            maker._closed = True  # noqa: SLF001 - the library offers no other way
        trace = trace.tb_next


@contextmanager
def _opened(path: Path, label: str, bus_database: Path | None) -> Iterator[Any]:
    try:
        from asammdf import MDF  # noqa: PLC0415 - an optional package, and slow
    except ImportError:
        raise MissingPackageError(f"{label}: reading measurement files", "asammdf", "formats") from None
    if bus_database is not None and not bus_database.is_file():
        raise HistoryError(
            f"the bus data base {bus_database.name} does not exist.",
            file=label,
            remedy="Check the path; in a study it starts from the study file.",
        )
    try:
        mdf = MDF(str(path))
        if bus_database is not None:
            mdf = mdf.extract_bus_logging({"CAN": [(str(bus_database), 0)]}, ignore_value2text_conversion=True)
    except Exception as error:  # noqa: BLE001 - a damaged file makes the library raise almost anything
        _close_half_made(error)
        reason = str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__
        raise HistoryError(
            f"the measurement file is cut or damaged ({reason}).", file=label, remedy="Copy or export it again."
        ) from None
    try:
        yield mdf
    finally:
        mdf.close()
