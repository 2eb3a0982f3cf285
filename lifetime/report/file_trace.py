"""The channels offered of a history file, downsampled for a picture without losing one peak."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.formats import reader_for
from lifetime.history.joined import JoinedReader
from lifetime.history.layout import AS_FOUND, Layout
from lifetime.history.offers import texts_of
from lifetime.history.open import find_files, is_pattern
from lifetime.history.quality import FileReport
from lifetime.history.reader import Reader
from lifetime.report.downsampling import Downsampler
from lifetime.units import named_unit

SHOWN: Final = ("current", "power", "voltage", "temperature")
_POINTS: Final = 1500


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel.

    Args:
        quantity: What it could be.
        column: Its name.
        unit: Its unit in the file, or "" where none is named.
        time: Times, in seconds where the unit of time is known, from the first one on.
        values: Values in the file's unit.
    """

    quantity: str
    column: str
    unit: str
    time: FloatArray
    values: FloatArray


def traces(report: FileReport, layout: Layout = AS_FOUND) -> list[Trace]:
    """Read the file once more and thin the channels offered.

    Args:
        report: What was found in it.
        layout: What is stated about its layout.

    Raises:
        HistoryError: The file cannot be read any more; what was read up to a damaged row is shown.
    """
    time = next((offer for offer in report.offers if offer.quantity == "time"), None)
    shown = [offer for offer in report.offers if offer.quantity in SHOWN]
    if time is None or report.time is None or not shown or report.time.span <= 0.0:
        return []
    date = next((offer for offer in report.offers if offer.quantity == "date"), None)
    unit = None if time.unit is None or time.patterns else named_unit(time.unit)
    samplers = [Downsampler(0.0, report.time.span, _POINTS) for _ in shown]
    positions = [time.position, *(offer.position for offer in shown), *([date.position] if date else [])]
    start: float | None = None
    for chunk in _reader(report, layout).chunks(positions, texts=texts_of(report.offers)):
        seconds = chunk.values[0] if unit is None else unit.to_si(chunk.values[0])
        if date is not None:
            seconds = seconds + chunk.values[-1]
        known = seconds[np.isfinite(seconds)]
        if start is None and known.size:
            start = float(known[0])
        for sampler, values in zip(samplers, chunk.values[1:], strict=False):
            sampler.add(seconds - (start or 0.0), values)
    return [
        Trace(offer.quantity, offer.column, offer.unit or "", *sampler.series())
        for offer, sampler in zip(shown, samplers, strict=True)
    ]


def _reader(report: FileReport, layout: Layout) -> Reader:
    if is_pattern(report.file):
        paths = find_files(report.file, Path())
        return JoinedReader(report.file, tuple(reader_for(path, path.name, layout) for path in paths), None)
    return reader_for(Path(report.file), report.file, layout)
