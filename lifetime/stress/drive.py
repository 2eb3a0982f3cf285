"""The drive of one working day, read once: charge, heat, cycles and time at state of one source."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.current import to_currents
from lifetime.stress.cycles import (
    CHARGE,
    KEEP_EXACT,
    POINT_ROWS,
    SAMPLE,
    SQUARED,
    THROUGHPUT,
    CycleTable,
    from_points,
    group,
    join,
)
from lifetime.stress.intervals import Intervals
from lifetime.stress.rainflow import extract, turning_points
from lifetime.stress.scan import affine_scan
from lifetime.stress.source import Source
from lifetime.stress.time_at_state import CurrentEnvelope, StateAccumulator, TimeAtState

CHARGE_BINS = 128
"""Charge bins per capacity."""
TEMPERATURE_BIN_K = 0.5


@dataclass(frozen=True, slots=True)
class Drive:
    """What one working day's driving does to a source, pack quantities, at the health it was traced at.

    Args:
        duration_s: Driving time [s].
        time_at_state: Joint histogram of charge and temperature.
        cycles: Cycles closed while driving, counted without regard to where the day begins.
        open_points: Reversals still open at the end, shape (rows, n); rows as named in ``stress.cycles``.
        envelope: Largest and smallest current at each level of charge.
        drawn_As: Net charge drawn [As].
        lowest_As: Smallest charge drawn at any moment [As], <= 0.
        highest_As: Largest charge drawn at any moment [As], >= 0.
        throughput_As: Charge moved in both directions [As].
        squared_A2s: Integral of the squared current [A²s].
        peak_A: Largest |current| [A].
        end_rise_K: Temperature rise at the end from a cold start, at initial resistance [K].
        end_decay: Share of a starting rise still left at the end [0..1].
        end_measured_K: Measured temperature at the end [K], or None where none was measured.
        measured_energy_J: Energy delivered at the measured terminal voltage [J], or None.
        shortage: Largest share by which a power exceeded what the source can deliver at all (0 = none).
        samples: Intervals traced.
    """

    duration_s: float
    time_at_state: TimeAtState
    cycles: CycleTable
    open_points: FloatArray
    envelope: CurrentEnvelope
    drawn_As: float
    lowest_As: float
    highest_As: float
    throughput_As: float
    squared_A2s: float
    peak_A: float
    end_rise_K: float
    end_decay: float
    end_measured_K: float | None
    measured_energy_J: float | None
    shortage: float
    samples: int


class DriveTracer:
    """Streams intervals through a source and keeps a summary of fixed size.

    Args:
        source: The source.
        power_driven: True where the intervals carry power [W], False for current [A].
        capacity_fraction: Health the trace is made at: capacity over initial, > 0.
        resistance_ratio: Health the trace is made at: resistance over initial, > 0.
        charge_from_voltage: True for a bank whose measured terminal voltage, not the count of charge, tells its
            state; a capacitor's charge is its voltage.
    """

    def __init__(
        self,
        source: Source,
        *,
        power_driven: bool,
        capacity_fraction: float = 1.0,
        resistance_ratio: float = 1.0,
        charge_from_voltage: bool = False,
    ) -> None:
        self._source = source
        self._power_driven = power_driven
        self._capacity_fraction = capacity_fraction
        self._resistance_ratio = resistance_ratio
        self._charge_from_voltage = charge_from_voltage
        self._states = StateAccumulator(source.capacity_As / CHARGE_BINS, TEMPERATURE_BIN_K)
        self._cycles: list[CycleTable] = []
        self._stack = np.zeros((POINT_ROWS, 1))
        self._now = np.zeros((POINT_ROWS, 1))
        self._elapsed_s = 0.0
        self._rise_K = 0.0
        self._lowest = self._highest = self._peak = self._shortage = 0.0
        self._energy: float | None = 0.0
        self._measured_end: float | None = None
        self._samples = 0

    def add(self, run: Intervals) -> None:
        """Trace one stretch of intervals that follows the last one without a gap."""
        if self._power_driven:
            run = self._currents(run)
        current = run.mean
        charge = self._charge_after(run, current)
        rise, integrals = self._heat(run, charge)
        self._collect_states(run, integrals, rise)
        self._collect_cycles(run, charge, integrals)
        self._lowest = min(self._lowest, float(charge.min()))
        self._highest = max(self._highest, float(charge.max()))
        peak = max(float(np.abs(run.left).max()), float(np.abs(run.right).max()))
        self._peak = max(self._peak, peak)
        if run.voltage_V is None or self._energy is None:
            self._energy = None
        else:
            self._energy += float(np.sum(run.voltage_V * current * run.length_s))
        if run.temperature_K is not None:
            self._measured_end = float(run.temperature_K[-1])
        self._samples += run.length_s.size

    def finish(self) -> Drive:
        """The summary of everything added."""
        points = np.concatenate([self._stack, self._now], axis=1)
        time_constant = self._source.thermal.time_constant_s if self._source.thermal else 0.0
        return Drive(
            duration_s=self._elapsed_s,
            time_at_state=self._states.time_at_state(),
            cycles=join(self._cycles),
            open_points=points,
            envelope=self._states.envelope(),
            drawn_As=float(self._now[CHARGE, 0]),
            lowest_As=self._lowest,
            highest_As=self._highest,
            throughput_As=float(self._now[THROUGHPUT, 0]),
            squared_A2s=float(self._now[SQUARED, 0]),
            peak_A=self._peak,
            end_rise_K=self._rise_K,
            end_decay=float(np.exp(-self._elapsed_s / time_constant)) if time_constant > 0.0 else 0.0,
            end_measured_K=self._measured_end,
            measured_energy_J=self._energy if self._samples else None,
            shortage=self._shortage,
            samples=self._samples,
        )

    def _currents(self, run: Intervals) -> Intervals:
        if run.voltage_V is not None:
            return replace(run, left=run.left / run.voltage_V, right=run.right / run.voltage_V)
        run, shortage = to_currents(
            run,
            self._source,
            float(self._now[CHARGE, 0]),
            capacity_fraction=self._capacity_fraction,
            resistance_ratio=self._resistance_ratio,
        )
        self._shortage = max(self._shortage, shortage)
        return run

    def _charge_after(self, run: Intervals, current: FloatArray) -> FloatArray:
        """Charge drawn at each interval's start and end, shape (n + 1,)."""
        charge = np.empty(current.size + 1)
        charge[0] = self._now[CHARGE, 0]
        if self._charge_from_voltage and run.voltage_V is not None:
            inner = run.voltage_V + current * self._source.resistance_ohm
            soc = inner / (self._source.open_circuit_V(np.ones(1))[0])
            charge[1:] = (self._source.start_soc - soc) * self._source.capacity_As
            return charge
        np.cumsum(current * run.length_s, out=charge[1:])
        charge[1:] += charge[0]
        return charge

    def _heat(self, run: Intervals, charge: FloatArray) -> tuple[FloatArray | None, FloatArray]:
        """Temperature rise at each interval's start, and the integrals that bins and cycles sum.

        Rows of the integrals: time, charge, rise, decay, measured temperature, squared current; each over its
        interval. The mean of the rise over an interval follows from the balance of heat, not from its ends.
        """
        length = run.length_s
        integrals = np.zeros((6, length.size))
        integrals[0] = length
        # Charge runs as a parabola between samples where the current runs straight.
        integrals[1] = length * (charge[:-1] + length * (2.0 * run.left + run.right) * (1.0 / 6.0))
        np.multiply(run.mean_square, length, out=integrals[5])
        if run.temperature_K is not None:
            np.multiply(run.temperature_K, length, out=integrals[4])
            return run.temperature_K, integrals
        thermal = self._source.thermal
        if thermal is None:
            return None, integrals
        tau = thermal.time_constant_s
        kept = np.exp(length * (-1.0 / tau))
        heat_rise = (self._source.resistance_ohm * thermal.resistance_K_per_W) * run.mean_square
        rise = np.empty(length.size + 1)
        rise[0] = self._rise_K
        rise[1:] = affine_scan(kept, heat_rise * (1.0 - kept), self._rise_K)
        integrals[2] = heat_rise * length - tau * np.diff(rise)
        elapsed = np.empty(length.size + 1)
        elapsed[0] = self._elapsed_s
        np.cumsum(length, out=elapsed[1:])
        elapsed[1:] += elapsed[0]
        integrals[3] = -tau * np.diff(np.exp(elapsed * (-1.0 / tau)))
        self._rise_K = float(rise[-1])
        return rise[:-1], integrals

    def _collect_states(self, run: Intervals, integrals: FloatArray, rise: FloatArray | None) -> None:
        length = run.length_s
        middle = np.divide(integrals[1], length, out=np.full(length.size, self._now[CHARGE, 0]), where=length > 0.0)
        currents = np.stack([np.maximum(run.left, run.right), np.minimum(run.left, run.right)])
        self._states.add(middle, rise, integrals[:5], currents)

    def _collect_cycles(self, run: Intervals, charge: FloatArray, integrals: FloatArray) -> None:
        """Push the stretch's reversals on the stack and take the cycles they close."""
        current = run.mean
        moved = np.abs(np.diff(charge)) if self._charge_from_voltage else np.abs(current) * run.length_s
        per_interval = np.stack(
            [
                moved,
                np.where(current < 0.0, moved, 0.0),
                np.where(current < 0.0, run.length_s, 0.0),
                integrals[5],
                *self._weighted(moved, integrals),
            ]
        )
        # The last reversal, the last sample of the stretch before, then this stretch's samples.
        series = np.concatenate([self._stack[CHARGE, -1:], charge])
        turns = turning_points(series)
        confirmed = turns[1:-1]
        ends = np.concatenate([confirmed, [series.size - 1]]) - 1
        running = np.concatenate([np.zeros((per_interval.shape[0], 1)), np.cumsum(per_interval, axis=1)], axis=1)
        points = np.empty((POINT_ROWS, ends.size))
        points[CHARGE] = charge[ends]
        points[SAMPLE] = np.concatenate([[run.first_sample], run.sample])[ends]
        points[THROUGHPUT:] = running[:, ends] + self._now[THROUGHPUT:]
        self._elapsed_s += float(np.sum(run.length_s))
        self._now = points[:, -1:]
        if ends.size > 1:
            closed, self._stack = extract(
                np.concatenate([self._stack, points[:, :-1]], axis=1), start_counts_half=False
            )
            self._keep(from_points(closed))

    def _weighted(self, moved: FloatArray, integrals: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rise, decay and measured temperature, each times the charge moved; rows RISE, DECAY, MEASURED."""
        length = integrals[0]
        per_second = np.divide(moved, length, out=np.zeros(moved.size), where=length > 0.0)
        return integrals[2] * per_second, integrals[3] * per_second, integrals[4] * per_second

    def _keep(self, table: CycleTable) -> None:
        if table.size == 0:
            return
        self._cycles.append(table)
        if sum(part.size for part in self._cycles) > KEEP_EXACT:
            self._cycles = [group(join(self._cycles), self._source.capacity_As)]


def trace_drive(tracer: DriveTracer, runs: Iterable[Intervals]) -> Drive:
    """Trace all stretches and return the summary."""
    for run in runs:
        tracer.add(run)
    return tracer.finish()

