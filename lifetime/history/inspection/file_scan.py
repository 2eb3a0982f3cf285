"""One pass over a file of which nothing is known yet: ranges, missing values, time steps, sign."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.block import IntArray
from lifetime.history.formats.reader import Chunk, Reader
from lifetime.history.inspection.data_checks import DataChecks
from lifetime.history.inspection.missing_values import MissingRun
from lifetime.history.inspection.plausibility import Magnitudes
from lifetime.history.inspection.time_steps import EDGE_S, StepCounts
from lifetime.history.mapping.column_suggestions import Offer, state_of_charge_column, texts_of
from lifetime.history.mapping.discharge_sign import DischargeSign, SignEvidence
from lifetime.units import Unit, header_unit, named_unit

_LARGEST_TIME: Final = 1e15  # beyond it stands no time, in whatever unit


@dataclass(frozen=True, slots=True)
class ColumnReport:
    """One column, in the file's own unit.

    Args:
        name: As it stands in the file.
        unit: Unit its header names, or None.
        kind: Whether it holds numbers.
        low: Smallest value, or None where there is no number.
        high: Largest value, or None.
        mean: Mean over the rows, not over time, or None.
        missing: Rows without a finite number.
        first_missing_row: The first of them, counted from 1 with the header as row 1, or None.
    """

    name: str
    unit: str | None
    kind: Literal["numbers", "text"]
    low: float | None
    high: float | None
    mean: float | None
    missing: int
    first_missing_row: int | None


@dataclass(frozen=True, slots=True)
class TimeReport:
    """The time column; in seconds where its unit is known, in the file's unit otherwise.

    Args:
        column: Its name.
        unit: "s" where the header names a unit of time, None otherwise.
        span: From the first to the last row.
        median_step: Median of the steps that take time.
        largest_step: Longest step.
        step_scatter: Share of the steps that differ from the median by more than half of it.
        largest_step_row: Row at its end, or None.
        gaps: Steps longer than ten median steps or an hour.
        switching_edges: Steps that take no time.
        backward_steps: Steps back in time.
        first_backward_row: Row at the end of the first of them, or None.
    """

    column: str
    unit: str | None
    span: float
    median_step: float
    step_scatter: float
    largest_step: float
    largest_step_row: int | None
    gaps: int
    switching_edges: int
    backward_steps: int
    first_backward_row: int | None


class FileScan:
    """One pass over all columns that hold numbers, in fixed memory.

    Args:
        reader: The file.
        offered: Which column could serve as what.
        progress: Called with the rows read so far after each chunk.
    """

    def __init__(self, reader: Reader, offered: tuple[Offer, ...], progress: Callable[[int], None]) -> None:
        self.reader = reader
        self.offers = {offer.quantity: offer for offer in offered}
        self.texts = texts_of(offered)
        self.numeric = _side_by_side(reader, self.offers)
        self.positions = (*self.numeric, *(p for p in self.texts if p not in self.numeric))
        self.soc = state_of_charge_column(reader.columns, self.numeric)
        self._progress = progress
        self.rows = 0
        self.fault: HistoryError | None = None
        count = len(reader.columns)
        self.lows, self.highs = np.full(count, np.inf), np.full(count, -np.inf)
        self.sums, self.missing = np.zeros(count), np.zeros(count, dtype=np.int64)
        self.first_missing = np.zeros(count, dtype=np.int64)
        self.missing_runs = {offer.position: MissingRun() for offer in offered if offer.quantity != "mode"}
        self.evidence = SignEvidence()
        known = [name for name in self.offers if self._unit(name) is not None or name == "time"]
        self.suspects = DataChecks(set(known), has_soc=self.soc is not None)
        is_time_known = "time" in self.offers and self.offers["time"].unit is not None
        self.steps = StepCounts() if is_time_known else StepCounts(longest_s=None)
        self.edges = self.backward = self.first_backward_row = self.largest_row = 0
        self.largest = 0.0
        self.times: list[float] = []
        self.soc_scale = 1.0

    def run(self) -> None:
        """Go through the file once; a row that spoils reading ends the pass and is kept as ``fault``."""
        if self.soc is not None:
            self.soc_scale = _soc_scale(self.reader.columns[self.soc])
        for chunk in self._chunks():
            self.rows += int(chunk.rows.size)
            by_position = dict(zip(self.positions, chunk.values, strict=True))
            for position, values in by_position.items():
                self._add_column(position, values, chunk.rows)
            if "time" in self.offers:
                times = self._times(by_position)
                self._add_times(times, chunk.rows)
                if "current" in self.offers:
                    self._add_sign(by_position, times)
                self._add_suspects(by_position, times, chunk.rows)
            self._progress(self.rows)
        self.suspects.look_for_spikes()

    def _chunks(self) -> Iterator[Chunk]:
        """All chunks up to the end or the first row that spoils reading, which is kept as the fault."""
        try:
            chunks = self.reader.chunks(self.positions, texts=self.texts)
            yield from (chunk for chunk in chunks if chunk.rows.size)
        except HistoryError as error:
            self.fault = error

    def _unit(self, quantity: str) -> Unit | None:
        offer = self.offers.get(quantity)
        return None if offer is None or offer.unit is None else named_unit(offer.unit)

    def _add_column(self, position: int, values: FloatArray, rows: IntArray) -> None:
        fine = np.isfinite(values)
        if position in self.missing_runs:
            self.missing_runs[position].add(np.flatnonzero(~fine), rows)
        if not fine.all():
            if self.missing[position] == 0:
                self.first_missing[position] = rows[np.argmin(fine)]
            self.missing[position] += values.size - np.count_nonzero(fine)
            values = values[fine]
        if values.size:
            self.lows[position] = min(self.lows[position], values.min())
            self.highs[position] = max(self.highs[position], values.max())
            with np.errstate(over="ignore", invalid="ignore"):
                self.sums[position] += values.sum()

    def _times(self, by_position: dict[int, FloatArray]) -> FloatArray:
        """The time column, in seconds where its unit is known; with the date where that is a column of its own."""
        unit = self._unit("time")
        values = by_position[self.offers["time"].position]
        with np.errstate(over="ignore"):
            times = values if unit is None or self.offers["time"].patterns else unit.to_si(values)
        return times + by_position[self.offers["date"].position] if "date" in self.offers else times

    def _add_times(self, values: FloatArray, rows: IntArray) -> None:
        fine = np.abs(values) < _LARGEST_TIME  # false for NaN
        times, ends = values[fine], rows[fine]
        if times.size == 0:
            return
        steps = np.diff(times, prepend=self.times[-1] if self.times else times[0])
        if not self.times:
            self.times = [float(times[0])]
            steps, ends = steps[1:], ends[1:]
        self.times = [self.times[0], float(times[-1])]
        back = steps < 0.0
        if back.any():
            if not self.backward:
                self.first_backward_row = int(ends[np.argmax(back)])
            self.backward += int(np.count_nonzero(back))
        moves = steps > EDGE_S
        self.edges += int(np.count_nonzero(~moves & ~back))
        self.steps.add(steps[moves], ends[moves])
        if steps.size and steps.max() > self.largest:
            self.largest, self.largest_row = float(steps.max()), int(ends[np.argmax(steps)])

    def _add_sign(self, by_position: dict[int, FloatArray], times: FloatArray) -> None:
        voltage = self.offers.get("voltage")
        self.evidence.add(
            times,
            by_position[self.offers["current"].position],
            None if voltage is None else by_position[voltage.position],
            None if self.soc is None else by_position[self.soc],
        )

    def _add_suspects(self, by_position: dict[int, FloatArray], times: FloatArray, rows: IntArray) -> None:
        channels = {"time": times}
        for quantity in self.suspects.watched:
            unit = self._unit(quantity)
            if unit is not None:
                with np.errstate(over="ignore"):
                    channels[quantity] = unit.to_si(by_position[self.offers[quantity].position])
        good = np.ones(times.size, dtype=np.bool_)
        for values in channels.values():
            good &= np.abs(values) < _LARGEST_TIME
        soc = None if self.soc is None else by_position[self.soc][good] * self.soc_scale
        self.suspects.add(rows[good], {name: values[good] for name, values in channels.items()}, soc)

    def column_report(self, position: int) -> ColumnReport:
        """What one column holds.

        Args:
            position: Its position in the file, from 0.
        """
        name = self.reader.columns[position]
        stated = header_unit(name)
        unit = None if stated is None else stated.unit.symbol if stated.unit is not None else stated.text
        if position not in self.numeric:
            return ColumnReport(name, unit, "text", None, None, None, 0, None)
        missing = int(self.missing[position])
        first = self.reader.place(int(self.first_missing[position]))[1] if missing else None
        present = self.rows - missing
        if not present:
            return ColumnReport(name, unit, "numbers", None, None, None, missing, first)
        mean = float(self.sums[position]) / present
        return ColumnReport(
            name,
            unit,
            "numbers",
            float(self.lows[position]),
            float(self.highs[position]),
            mean if np.isfinite(mean) else None,
            missing,
            first,
        )

    def time_report(self) -> TimeReport | None:
        """What the time column offered holds, or None."""
        if "time" not in self.offers or not self.times:
            return None
        offer = self.offers["time"]
        return TimeReport(
            column=offer.column,
            unit=None if offer.unit is None else "s",
            span=self.times[-1] - self.times[0],
            median_step=self.steps.median_s,
            step_scatter=self.steps.share_off_median(),
            largest_step=self.largest,
            largest_step_row=self._row(self.largest_row),
            gaps=self.steps.gaps()[0],
            switching_edges=self.edges,
            backward_steps=self.backward,
            first_backward_row=self._row(self.first_backward_row),
        )

    def _row(self, row: int) -> int | None:
        return self.reader.place(row)[1] if row else None

    def magnitudes(self) -> Magnitudes:
        """What could make a unit doubtful, in SI."""
        peaks: dict[str, float | None] = {}
        for quantity in ("current", "voltage", "power"):
            unit, offer = self._unit(quantity), self.offers.get(quantity)
            if unit is None or offer is None or not np.isfinite(self.highs[offer.position]):
                peaks[quantity] = None
                continue
            ends = np.array([self.lows[offer.position], self.highs[offer.position]])
            with np.errstate(over="ignore"):
                peaks[quantity] = float(np.abs(unit.to_si(ends)).max())
        drift, span = self.suspects.drift, self._span("current")
        is_time_known = self._unit("time") is not None
        return Magnitudes(
            current_A=peaks["current"],
            voltage_V=peaks["voltage"],
            power_W=peaks["power"],
            power_share=self.suspects.power_share,
            capacity_As=None if drift is None or not is_time_known else drift.capacity_As,
            median_step_s=self.steps.median_s if is_time_known else None,
            move_share=None if span is None else self.suspects.move_share(span),
        )

    def _span(self, quantity: str) -> float | None:
        unit, offer = self._unit(quantity), self.offers.get(quantity)
        if unit is None or offer is None or not np.isfinite(self.highs[offer.position]):
            return None
        with np.errstate(over="ignore"):
            low, high = unit.to_si(np.array([self.lows[offer.position], self.highs[offer.position]])).tolist()
        span = float(high) - float(low)
        return span if np.isfinite(span) else None

    def sign_hint(self) -> DischargeSign | None:
        """What the data say about the sign of discharge, or None where there is nothing to compare."""
        if "current" not in self.offers or ("voltage" not in self.offers and self.soc is None):
            return None
        return self.evidence.hint()


def _side_by_side(reader: Reader, offered: Mapping[str, Offer]) -> tuple[int, ...]:
    """Columns of numbers that can be streamed together with those offered, or with the first one."""
    numeric = reader.number_columns()
    if not numeric:
        return ()
    lead = next((offered[name].position for name in ("current", "power", "time") if name in offered), numeric[0])
    beside = reader.together(lead)
    return numeric if beside is None else tuple(position for position in numeric if position in beside)


def _soc_scale(name: str) -> float:
    """Factor that makes a fraction of a logged state of charge; a header that says nothing is read as percent."""
    return 1.0 if "[-]" in name or name.lower().endswith(("fraction", "[1]")) else 0.01
