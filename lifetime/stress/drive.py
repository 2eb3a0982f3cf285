"""The drive of one working day, read once: charge, heat, cycles and time at state of one source."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.counting import EVERY_CYCLE, SMALL_DEPTH, CycleCounting, CycleRate
from lifetime.stress.counting_grid import CountingGrid
from lifetime.stress.counting_points import Steps, averaged, counting_points, rest_at_start
from lifetime.stress.current import to_currents
from lifetime.stress.cycles import (
    CHARGE,
    CHARGED,
    KEEP_EXACT,
    POINT_ROWS,
    RESTED,
    SAMPLE,
    SQUARED,
    THROUGHPUT,
    TIME,
    CycleTable,
    from_points,
    group,
    join,
)
from lifetime.stress.intervals import Intervals
from lifetime.stress.rainflow import extract, turning_points
from lifetime.stress.refining import refined
from lifetime.stress.scan import affine_scan
from lifetime.stress.source import Source, Thermal
from lifetime.stress.time_at_state import CurrentEnvelope, StateAccumulator, TimeAtState

CHARGE_BINS = 128
"""Charge bins per capacity."""
TEMPERATURE_BIN_K = 0.5
_LARGEST_MOVE = 0.02
"""Share of the capacity, or of the energy at full voltage, that one interval may move before it is cut finer."""
_LONGEST_WARMING = 0.5
"""Thermal time constants that one interval may last before it is cut finer."""
_MOST_RISE_K = 200.0
"""A warm start of a log by which its own time bins are made; a hotter one is averaged over a little more."""
_LONGEST_GROWTH = 300.0
"""Time constants a stretch may last for its decay to be inverted within float64."""


@dataclass(frozen=True, slots=True)
class Drive:
    """What one working day's driving does to a source, pack quantities, at the health it was traced at.

    Args:
        duration_s: Driving time [s].
        time_at_state: Joint histogram of charge and temperature.
        time_at_rest: The same of what was told apart as rest; empty where nothing was.
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
        counted_throughput_As: Charge moved by the current that cycles are counted of [As]: the filtered one.
        small_As: Range below which a cycle is small [As].
        charging_mean_A: Charging current's mean over the whole drive [A].
        cycle_rate: Which C-rates its cycles are grouped by.
    """

    duration_s: float
    time_at_state: TimeAtState
    time_at_rest: TimeAtState
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
    counted_throughput_As: float
    small_As: float
    charging_mean_A: float
    cycle_rate: CycleRate

    @property
    def rms_A(self) -> float:
        """Quadratic mean of the current [A]."""
        return float(np.sqrt(self.squared_A2s / self.duration_s))


class _Integrals(NamedTuple):
    """Integrals over each interval, shape (n,) each; None where a quantity plays no part."""

    time: FloatArray
    middle: FloatArray
    squared: FloatArray
    rise: FloatArray | None
    decay: FloatArray | None
    measured: FloatArray | None
    temperature: FloatArray | None
    """Not an integral: what the temperature bins are made of. Nor is ``middle``, the mean charge drawn."""


class DriveTracer:
    """Streams intervals through a source and keeps a summary of fixed size.

    Args:
        source: The source.
        power_driven: True where the intervals carry power [W], False for current [A].
        capacity_fraction: Health the trace is made at: capacity over initial [1], > 0.
        resistance_ratio: Health the trace is made at: resistance over initial [1], > 0.
        charge_from_voltage: True for a bank whose measured terminal voltage, not the count of charge, tells its
            state; a capacitor's charge is its voltage.
        rest_below_A: Current up to which an interval is rest, told apart from load [A], for a log of everything,
            whose cycles are told apart from those inside them too; None for a drive.
        counting: How cycles are counted.
    """

    def __init__(
        self,
        source: Source,
        *,
        power_driven: bool,
        capacity_fraction: float = 1.0,
        resistance_ratio: float = 1.0,
        charge_from_voltage: bool = False,
        rest_below_A: float | None = None,
        counting: CycleCounting = EVERY_CYCLE,
    ) -> None:
        self._source = source
        self._power_driven = power_driven
        self._capacity_fraction = capacity_fraction
        self._resistance_ratio = resistance_ratio
        self._charge_from_voltage = charge_from_voltage
        self._rest_below_A = rest_below_A
        self._cycle_rate = counting.cycle_rate
        self._grid = CountingGrid(counting, source.capacity_As) if counting.filters else None
        self._squared_A2s = 0.0
        self._states = StateAccumulator(source.capacity_As / CHARGE_BINS, TEMPERATURE_BIN_K)
        self._rests = StateAccumulator(source.capacity_As / CHARGE_BINS, TEMPERATURE_BIN_K)
        self._cycles: list[CycleTable] = []
        self._rows, self._group_above = 0, KEEP_EXACT
        self._stack = np.zeros((POINT_ROWS, 1))
        self._now = np.zeros((POINT_ROWS, 1))
        self._taken = np.zeros((POINT_ROWS - THROUGHPUT, 1))
        self._apart_from = None if rest_below_A is None else THROUGHPUT
        self._elapsed_s = 0.0
        self._moved_As = 0.0
        self._rise_K, self._decay = 0.0, 1.0
        thermal = source.thermal
        per_charge = float(source.open_circuit_V(np.ones(1))[0]) if power_driven else 1.0
        self._largest_move = _LARGEST_MOVE * source.capacity_As * per_charge
        self._longest_s = thermal.time_constant_s * _LONGEST_WARMING if thermal else math.inf
        self._heat_rise = source.resistance_ohm * thermal.resistance_K_per_W if thermal else 0.0
        self._lowest = self._highest = self._peak = self._shortage = 0.0
        self._energy: float | None = 0.0
        self._measured_end: float | None = None
        self._samples = 0

    def add(self, run: Intervals) -> None:
        """Trace one stretch of intervals that follows the last one without a gap."""
        if not self._charge_from_voltage:
            run = refined(run, self._largest_move, self._longest_s)
        if self._power_driven:
            run = self._currents(run)
        current = run.mean
        charge = self._charge_after(run, current)
        integrals = self._heat(run, charge)
        self._collect_states(run, integrals)
        self._collect_cycles(run, current, charge, integrals)
        self._lowest = min(self._lowest, float(charge.min()))
        self._highest = max(self._highest, float(charge.max()))
        self._peak = max(self._peak, run.strongest)
        if run.voltage_V is None or self._energy is None:
            self._energy = None
        else:
            self._energy += float(np.sum(run.voltage_V * current * run.length_s))
        if self._charge_from_voltage:
            # A noisy voltage turns more often than charge flows; what flowed is the current's business.
            self._moved_As += float(np.sum(np.abs(current) * run.length_s))
        if run.temperature_K is not None:
            self._measured_end = float(run.temperature_K[-1])
        self._samples += run.length_s.size

    def finish(self) -> Drive:
        """The summary of everything added."""
        points = np.concatenate([self._stack, self._now], axis=1)
        totals = self._now[THROUGHPUT:, 0] + self._taken[:, 0]
        return Drive(
            duration_s=self._elapsed_s,
            time_at_state=self._states.time_at_state(),
            time_at_rest=self._rests.time_at_state(),
            cycles=join(self._cycles),
            open_points=points,
            envelope=self._states.envelope(),
            drawn_As=float(self._now[CHARGE, 0]),
            lowest_As=self._lowest,
            highest_As=self._highest,
            throughput_As=self._moved_As if self._charge_from_voltage or self._grid else float(totals[0]),
            squared_A2s=self._squared_A2s if self._grid else float(totals[SQUARED - THROUGHPUT]),
            peak_A=self._peak,
            end_rise_K=self._rise_K,
            end_decay=self._decay if self._source.thermal else 0.0,
            end_measured_K=self._measured_end,
            measured_energy_J=self._energy if self._samples else None,
            shortage=self._shortage,
            samples=self._samples,
            counted_throughput_As=float(totals[0]),
            small_As=SMALL_DEPTH * self._source.capacity_As,
            charging_mean_A=float(totals[CHARGED - THROUGHPUT]) / self._elapsed_s if self._elapsed_s > 0.0 else 0.0,
            cycle_rate=self._cycle_rate,
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

    def _heat(self, run: Intervals, charge: FloatArray) -> _Integrals:
        """Integrals over each interval that bins and cycles sum; the rise's follow from the balance of heat."""
        length = run.length_s
        # Charge runs as a parabola between samples where the current runs straight.
        middle = run.left * 2.0
        middle += run.right
        middle *= length
        middle *= 1.0 / 6.0
        middle += charge[:-1]
        squared = run.mean_square
        if run.temperature_K is not None or self._source.thermal is None:
            measured = None if run.temperature_K is None else run.temperature_K * length
            return _Integrals(length, middle, squared * length, None, None, measured, run.temperature_K)
        rise, decay = self._warm(length, squared, self._source.thermal)
        tau = self._source.thermal.time_constant_s
        return _Integrals(
            time=length,
            middle=middle,
            squared=squared * length,
            # Heat that went in less heat still stored: exact, whatever the interval's length.
            rise=squared * length * self._heat_rise - tau * np.diff(rise),
            decay=np.diff(decay) * -tau,
            measured=None,
            # A log starts as warm as it ends, which nobody knows yet: what is left of it is told apart as finely.
            temperature=rise[:-1] if self._rest_below_A is None else rise[:-1] + _MOST_RISE_K * decay[:-1],
        )

    def _warm(self, length: FloatArray, squared: FloatArray, thermal: Thermal) -> tuple[FloatArray, FloatArray]:
        """Temperature rise, and the share of a starting rise still left, at the intervals' ends, start first."""
        tau = thermal.time_constant_s
        elapsed = np.empty(length.size + 1)
        elapsed[0] = 0.0
        np.cumsum(length, out=elapsed[1:])
        elapsed *= 1.0 / tau
        rise = np.empty_like(elapsed)
        if elapsed[-1] < _LONGEST_GROWTH:
            # The recurrence divided by its own decay is a plain sum; valid while the decay can be inverted.
            growth = np.exp(elapsed)
            np.cumsum(squared * np.diff(growth), out=rise[1:])
            rise[0] = 0.0
            rise *= self._heat_rise
            rise += self._rise_K
            decay = np.divide(1.0, growth, out=growth)
            rise *= decay
        else:
            decay = np.exp(-elapsed)
            kept = np.exp(length * (-1.0 / tau))
            rise[0] = self._rise_K
            rise[1:] = affine_scan(kept, self._heat_rise * squared * (1.0 - kept), self._rise_K)
        decay = decay * self._decay
        self._rise_K, self._decay = float(rise[-1]), float(decay[-1])
        return rise, decay

    def _collect_states(self, run: Intervals, integrals: _Integrals) -> None:
        highest, lowest = np.maximum(run.left, run.right), np.minimum(run.left, run.right)
        charge = integrals.middle * integrals.time
        weights = (integrals.time, charge, integrals.rise, integrals.decay, integrals.measured)
        if self._rest_below_A is None:
            self._states.add(integrals.middle, integrals.temperature, weights, highest, lowest)
            return
        rests = (highest <= self._rest_below_A) & (lowest >= -self._rest_below_A)
        for states, part in ((self._states, ~rests), (self._rests, rests)):
            parts = [None if values is None else values * part for values in weights]
            # The envelope is that of the whole log, so the first takes in every current.
            states.add(integrals.middle, integrals.temperature, parts, highest, lowest)

    def _collect_cycles(self, run: Intervals, current: FloatArray, charge: FloatArray, integrals: _Integrals) -> None:
        """Push the stretch's reversals on the stack and take the cycles they close."""
        steps = self._steps(run, current, charge, integrals)
        # The last reversal, the last sample of the stretch before, then this stretch's samples.
        turns = turning_points(np.concatenate([self._stack[CHARGE, -1:], steps.charge]))
        ends = np.concatenate([turns[1:-1] - 1, [steps.charge.size - 1]])
        dead_band_A = 0.0 if self._grid is None else self._grid.dead_band_A
        if self._stack.shape[1] == 1 and self._now[THROUGHPUT, 0] == 0.0:
            # The first half cycle begins with the first load.
            self._stack[[TIME, RESTED]] += rest_at_start(steps, dead_band_A)
        points = counting_points(steps, ends, self._now, dead_band_A)
        points[SAMPLE] = run.sample_at(ends if steps.kept is None else steps.kept[ends])
        self._elapsed_s += float(np.sum(run.length_s))
        self._now = points[:, -1:]
        if ends.size > 1:
            found = np.concatenate([self._stack, points[:, :-1]], axis=1)
            closed, self._stack = extract(found, start_counts_half=False, apart_from=self._apart_from)
            # What the cycles took out of the last reversal's integrals is missing from all that follow.
            taken = found[THROUGHPUT:, -1:] - self._stack[THROUGHPUT:, -1:]
            self._taken += taken
            self._now = self._now.copy()
            self._now[THROUGHPUT:] -= taken
            self._keep(from_points(closed))

    def _steps(self, run: Intervals, current: FloatArray, charge: FloatArray, integrals: _Integrals) -> Steps:
        """The stretch as cycles are counted of it: as it is, or averaged."""
        length, squared = run.length_s, integrals.squared
        steps = Steps(length, current, charge, squared, integrals.rise, integrals.decay, integrals.measured)
        if self._grid is None:
            return steps
        self._moved_As += float(np.sum(np.abs(current) * length))
        self._squared_A2s += float(np.sum(squared))
        return averaged(steps, self._grid, self._elapsed_s)

    def _keep(self, table: CycleTable) -> None:
        if table.size == 0:
            return
        self._cycles.append(table)
        self._rows += table.size
        if self._rows > self._group_above:
            self._cycles = [group(join(self._cycles), self._source.capacity_As, self._cycle_rate)]
            self._rows = self._cycles[0].size
            # Twice what grouping left: a wide log must not be grouped anew with every stretch.
            self._group_above = max(KEEP_EXACT, 2 * self._rows)


def trace_drive(tracer: DriveTracer, runs: Iterable[Intervals]) -> Drive:
    """Trace all stretches and return the summary."""
    for run in runs:
        tracer.add(run)
    return tracer.finish()
