"""One pass over a file of which nothing is known yet: columns, time, data checks, sign; in fixed memory."""

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.block import IntArray
from lifetime.history.formats.reader import Chunk, Reader
from lifetime.history.formats.text_values import TextValues
from lifetime.history.inspection.column_scan import ColumnReport, ColumnScans, text_report
from lifetime.history.inspection.data_checks import DataChecks
from lifetime.history.inspection.direction import DirectionCheck
from lifetime.history.inspection.lost_signals import without_zeros
from lifetime.history.inspection.plausibility import Magnitudes
from lifetime.history.inspection.repeated_files import RepeatedFiles
from lifetime.history.inspection.time_scan import LARGEST_TIME, TimeScan
from lifetime.history.mapping.alternation import AlternationCheck
from lifetime.history.mapping.column_suggestions import ColumnSuggestion, Suggestions, suggest_mode, text_values_of
from lifetime.history.mapping.discharge_sign import DischargeSign, SignEvidence
from lifetime.history.mapping.mode_words import WordCollector
from lifetime.history.mapping.role_ratings import state_of_charge_column
from lifetime.units import Unit, named_unit


class FileScan:
    """One pass over all columns that contain numbers.

    Args:
        reader: The file.
        suggestions: Which column could have which role; the mode's words are completed by the pass.
        progress: Called with the rows read so far after each chunk.
    """

    def __init__(self, reader: Reader, suggestions: Suggestions, progress: Callable[[int], None]) -> None:
        self.reader = reader
        self.suggestions = suggestions
        self.by_role = {suggestion.role: suggestion for suggestion in suggestions.columns}
        self.words = {} if suggestions.mode_column is None else {suggestions.mode_column: WordCollector()}
        self.texts: dict[int, TextValues] = {**text_values_of(suggestions.columns), **self.words}
        numeric = _side_by_side(reader, self.by_role)
        positions = (*numeric, *(position for position in self.texts if position not in numeric))
        self.columns = ColumnScans(reader, positions)
        self.numeric = frozenset(numeric)
        self.soc = state_of_charge_column(reader.columns, numeric)
        self.time = TimeScan(reader, self.by_role["time"]) if "time" in self.by_role else None
        known = {role for role in self.by_role if self._unit(role) is not None or role == "time"}
        self.flow = self.by_role.get("current", self.by_role.get("power"))
        self.checks = DataChecks(known, has_soc=self.soc is not None)
        self.rows = 0
        self.fault: HistoryError | None = None
        self._evidence = SignEvidence()
        self._progress = progress
        self.repeated_files = RepeatedFiles()
        self.direction = DirectionCheck()
        self.alternation = AlternationCheck()

    def run(self) -> None:
        """Go through the file once; a row that spoils reading ends the pass and is kept as ``fault``."""
        for chunk in self._chunks():
            self.rows += int(chunk.rows.size)
            by_position = dict(zip(self.columns.positions, chunk.values, strict=True))
            self.columns.add(chunk.values, chunk.rows)
            if self.time is not None:
                times = self._times(by_position)
                self.time.add(times, chunk.rows, None if self.flow is None else by_position[self.flow.position])
                self._add_sign(by_position, times)
                self._add_checks(by_position, times, chunk.rows)
                if self.flow is not None and self.reader.files:
                    self.repeated_files.add(chunk.rows, by_position[self.flow.position])
            self._progress(self.rows)
        self.checks.look_for_spikes()
        self._complete_mode()

    def _complete_mode(self) -> None:
        """Suggest the mode anew from the words of all rows, as some modes occur only late in a log."""
        words = {at: collector.words for at, collector in self.words.items()}
        mode = suggest_mode(self.reader, words, has_speed="speed" in self.by_role)
        self.by_role.pop("mode", None)
        if mode is not None:
            self.by_role["mode"] = mode

    def _chunks(self) -> Iterator[Chunk]:
        """All chunks up to the end or the first row that spoils reading, which is kept as the fault."""
        try:
            chunks = self.reader.chunks(self.columns.positions, texts=self.texts)
            yield from (chunk for chunk in chunks if chunk.rows.size)
        except HistoryError as error:
            self.fault = error

    def _unit(self, role: str) -> Unit | None:
        suggestion = self.by_role.get(role)
        return None if suggestion is None or suggestion.unit is None else named_unit(suggestion.unit)

    def _times(self, by_position: Mapping[int, FloatArray]) -> FloatArray:
        """The time column, in seconds where its unit is known; with the date where that is a column of its own."""
        unit, time = self._unit("time"), self.by_role["time"]
        values = by_position[time.position]
        with np.errstate(over="ignore"):
            times = values if unit is None or time.patterns else unit.to_si(values)
        return times + by_position[self.by_role["date"].position] if "date" in self.by_role else times

    def _add_sign(self, by_position: Mapping[int, FloatArray], times: FloatArray) -> None:
        if "current" not in self.by_role:
            return
        suggestion = self.by_role.get("voltage")
        current = by_position[self.by_role["current"].position]
        voltage = None if suggestion is None else without_zeros(by_position[suggestion.position])
        self._evidence.add(times, current, voltage, None if self.soc is None else by_position[self.soc])
        if voltage is not None:
            self.direction.add(current, voltage)
        if self._unit("time") is not None:
            self.alternation.add(times, current)

    def _add_checks(self, by_position: Mapping[int, FloatArray], times: FloatArray, rows: IntArray) -> None:
        channels = {"time": times}
        for role in self.checks.watched:
            unit = self._unit(role)
            if unit is not None:
                with np.errstate(over="ignore"):
                    channels[role] = unit.to_si(by_position[self.by_role[role].position])
        good = np.ones(times.size, dtype=np.bool_)
        for values in channels.values():
            good &= np.abs(values) < LARGEST_TIME
        soc = None
        if self.soc is not None:
            soc = by_position[self.soc][good] * _soc_scale(self.reader.columns[self.soc])
        self.checks.add(rows[good], {name: values[good] for name, values in channels.items()}, soc)

    def column_reports(self) -> tuple[ColumnReport, ...]:
        """What every column contains, in the file's order."""
        return tuple(
            self.columns[position].report if position in self.numeric else text_report(name)
            for position, name in enumerate(self.reader.columns)
        )

    @property
    def is_unsigned(self) -> bool:
        """True where the current never changes sign while the voltage both rises and falls under it."""
        return self.direction.is_unsigned

    @property
    def is_sign_by_mode(self) -> bool:
        """True where the current, or the power in its place, has no sign of its own, and a column of words has."""
        if self.flow is None or "mode" not in self.by_role:
            return False
        limits = self.columns[self.flow.position].range
        return limits is None or limits[0] >= 0.0 or limits[1] <= 0.0

    def sign(self) -> DischargeSign | None:
        """What the data say about the sign of discharge, or None where there is nothing to compare."""
        if "current" not in self.by_role or ("voltage" not in self.by_role and self.soc is None):
            return None
        return self._evidence.sign()

    def magnitudes(self) -> Magnitudes:
        """What could make a unit doubtful, in SI."""
        ranges = {role: self._range_si(role) for role in ("current", "voltage", "power")}
        peaks = {
            role: None if limits is None else max(abs(limits[0]), abs(limits[1])) for role, limits in ranges.items()
        }
        is_time_known = self._unit("time") is not None and self.time is not None
        drift, current = self.checks.charge_drift, ranges["current"]
        span = None if current is None or not np.isfinite(current[1] - current[0]) else current[1] - current[0]
        return Magnitudes(
            current_A=peaks["current"],
            voltage_V=peaks["voltage"],
            power_W=peaks["power"],
            power_ratio=self.checks.power_ratio,
            capacity_As=None if drift is None or not is_time_known else drift.capacity_As,
            median_step_s=self.time.steps.median_s if is_time_known and self.time is not None else None,
            step_fraction=None if span is None else self.checks.step_fraction(span),
        )

    def _range_si(self, role: str) -> tuple[float, float] | None:
        unit = self._unit(role)
        limits = None if unit is None else self.columns[self.by_role[role].position].range
        if unit is None or limits is None:
            return None
        with np.errstate(over="ignore"):
            low, high = unit.to_si(np.array(limits)).tolist()
        return low, high


def _side_by_side(reader: Reader, by_role: Mapping[str, ColumnSuggestion]) -> tuple[int, ...]:
    """Columns of numbers that can be streamed together with those suggested, or with the first one."""
    numeric = reader.number_columns()
    if not numeric:
        return ()
    suggested = [by_role[role].position for role in ("current", "power", "speed", "time") if role in by_role]
    lead = next((position for position in suggested if position in numeric), numeric[0])
    beside = reader.together(lead)
    others = (at for at in numeric if at != lead and (beside is None or at in beside))
    # Where columns have rasters of their own, all are read on that of the first: the one whose charge is counted.
    return (lead, *others)


def _soc_scale(name: str) -> float:
    """Factor that makes a fraction of a logged state of charge; a header that says nothing is read as percent."""
    return 1.0 if "[-]" in name or name.lower().endswith(("fraction", "[1]")) else 0.01
