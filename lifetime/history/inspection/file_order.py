"""In which order several files of which nothing is known yet make one history."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from lifetime.errors import HistoryError
from lifetime.history.formats.joined_files import JoinedReader
from lifetime.history.formats.reader import Reader
from lifetime.history.formats.text_values import NO_TEXTS
from lifetime.history.mapping.column_suggestions import ColumnSuggestion, suggest_columns
from lifetime.history.mapping.timestamps import Timestamps

_STEPS_APART = 10.0
"""Clocks that begin within so many steps of each other were set to the same value when their file began."""


@dataclass(frozen=True, slots=True)
class _Beginning:
    """The first rows of a file: its first time, the last one looked at, and the median step between."""

    reader: Reader
    first: float
    last: float
    step: float


def ordered(joined: JoinedReader) -> JoinedReader:
    """The files in the order of their times, or one after another where each starts its clock anew.

    They stay as they are where no time is found or the first rows cannot be read, which the pass over them will say.

    Args:
        joined: The files in the order of their names.
    """
    suggestions = {suggestion.role: suggestion for suggestion in suggest_columns(joined).columns}
    if "time" not in suggestions or "date" in suggestions or len(joined.readers) < 2:
        return joined
    time = suggestions["time"]
    try:
        beginnings = [_beginning(reader, time) for reader in joined.readers]
    except HistoryError:
        return joined
    known = [beginning for beginning in beginnings if beginning is not None]
    if len(known) < len(beginnings):
        return joined
    if _start_anew(known):
        return replace(joined, time_continues=time.position)
    return replace(joined, readers=tuple(one.reader for one in sorted(known, key=lambda one: one.first)))


def _beginning(reader: Reader, time: ColumnSuggestion) -> _Beginning | None:
    if reader.columns.count(time.column) != 1:
        return None
    position = reader.columns.index(time.column)
    texts = {position: Timestamps(time.patterns[0])} if time.patterns else NO_TEXTS
    chunk = next((chunk for chunk in reader.chunks([position], texts=texts) if chunk.rows.size), None)
    times = np.empty(0) if chunk is None else chunk.values[0][np.isfinite(chunk.values[0])]
    if times.size < 2:
        return None
    with np.errstate(over="ignore", invalid="ignore"):
        return _Beginning(reader, float(times[0]), float(times.max()), float(np.median(np.abs(np.diff(times)))))


def _start_anew(files: list[_Beginning]) -> bool:
    """True where every file begins at about the time of the first, though each one's time runs on beyond that."""
    apart = _STEPS_APART * max(one.step for one in files)
    same = all(abs(one.first - files[0].first) <= apart for one in files)
    return same and all(one.last > other.first for one, other in pairwise(files))
