"""The suggested channels of a history file, downsampled for a picture without losing one peak."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.formats.files import open_files
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.inspection.file_report import FileReport
from lifetime.history.mapping.column_suggestions import text_values_of
from lifetime.report.downsampling import Downsampler
from lifetime.units import named_unit

SHOWN: Final = ("current", "power", "voltage", "temperature")
_POINTS: Final = 1500


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel.

    Args:
        quantity: Its suggested role.
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
    """Read the file once more and downsample the suggested channels.

    Args:
        report: What was found in it.
        layout: What is stated about its layout.

    Raises:
        HistoryError: The file cannot be read any more; what was read up to a damaged row is shown.
    """
    time = next((suggestion for suggestion in report.suggestions if suggestion.role == "time"), None)
    shown = [suggestion for suggestion in report.suggestions if suggestion.role in SHOWN]
    if time is None or report.time is None or not shown or report.time.span <= 0.0:
        return []
    date = next((suggestion for suggestion in report.suggestions if suggestion.role == "date"), None)
    unit = None if time.unit is None or time.patterns else named_unit(time.unit)
    samplers = [Downsampler(0.0, report.time.span, _POINTS) for _ in shown]
    positions = [time.position, *(suggestion.position for suggestion in shown), *([date.position] if date else [])]
    start: float | None = None
    for chunk in open_files(report.file, Path(), layout).chunks(positions, texts=text_values_of(report.suggestions)):
        seconds = chunk.values[0] if unit is None else unit.to_si(chunk.values[0])
        if date is not None:
            seconds = seconds + chunk.values[-1]
        known = seconds[np.isfinite(seconds)]
        if start is None and known.size:
            start = float(known[0])
        for sampler, values in zip(samplers, chunk.values[1:], strict=False):
            sampler.add(seconds - (start or 0.0), values)
    return [
        Trace(suggestion.role, suggestion.column, suggestion.unit or "", *sampler.series())
        for suggestion, sampler in zip(shown, samplers, strict=True)
    ]
