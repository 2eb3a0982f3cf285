"""A working day: drive, charge, rest for what is left of 24 hours; as bins and cycles that any health can read.

The day is taken as repeated: the reversals left open by the drive, the way back through charging and the next morning
close each other (ASTM E1049-85, 5.4.5). Everything is kept in charge, so that depth, C-rate, voltage and heat follow
the present health without counting again.
"""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_DAY
from lifetime.errors import AssessmentError
from lifetime.stress.bins import Bins
from lifetime.stress.charging import CURRENT_STEPS, ChargeStage, Charging, charge_stages
from lifetime.stress.current_watch import Excess
from lifetime.stress.cycles import (
    CHARGE,
    CHARGED,
    CHARGING_TIME,
    DECAY,
    MEASURED,
    RESTED,
    RISE,
    SQUARED,
    THROUGHPUT,
    TIME,
    CycleTable,
    charging_together,
    ends_joined,
    from_points,
    group,
    join,
)
from lifetime.stress.day_temperature import DayTemperature, Season
from lifetime.stress.drive import Drive
from lifetime.stress.heated import HeatedState, charging_heat_A2s, steady_factor
from lifetime.stress.log_cycles import log_cycles
from lifetime.stress.rainflow import close_loop
from lifetime.stress.source import Source
from lifetime.stress.time_at_state import TimeAtState

_ROUNDING = 1e-9
"""Relative; a drive of 24 h may miss them by the rounding of its own steps."""
GROUP_ABOVE = 256
"""A day's cycle table longer than this is grouped before the years are run."""
_REST_EDGES = np.concatenate([[0.0], np.geomspace(1 / 64, 1.0, 13)])
"""Rest is cut finer at its beginning, where the pack still cools."""


@dataclass(frozen=True, slots=True)
class Day:
    """One working day of one source, traced at one health.

    Args:
        drive: The drive it was made from.
        bins: Time bins of drive, charge and rest; a rest before charging comes after it.
        cycles: Cycles of the repeated day.
        cycle_ambient_share: Share of the season's ambient in each cycle's temperature.
        cycle_fixed_K: Fixed part of each cycle's temperature [K].
        length_s: 24 hours, or the length of a log that holds everything [s].
        starting_rise_K: Temperature rise left from the day before when the day begins, at initial resistance [K].
        charging_s: Time spent charging [s].
        squared_A2s: Integral of squared current over drive and charge [A²s].
        throughput_As: Charge moved in both directions over drive and charge [As].
        open_charge_As: Net charge the day does not bring back [As]; 0 where charging ends where the day began.
        held_back_As: Charge that the highest voltage keeps out at the end of charging [As].
        heat_A2s: Heat of drive and charging over the stated resistance, at 25 °C when new [A²s].
        heated: Where the drive's heat is made; None where there is none.
        excesses: Limits of current that a history passes.
        resting_bins: How many of the bins are rest, the last ones; all others are driving and charging.
        rest_in_drive_s: Time of the drive that was told apart as rest [s], for a log that holds everything.
        charging_late_s: How much later than asked for charging ends [s].
        pulse_W: Largest mean discharge power over the length of a pulse [W]; None where no pulse is asked about.
    """

    drive: Drive
    bins: Bins
    cycles: CycleTable
    cycle_ambient_share: FloatArray
    cycle_fixed_K: FloatArray
    length_s: float
    starting_rise_K: float
    charging_s: float
    squared_A2s: float
    throughput_As: float
    open_charge_As: float
    held_back_As: float = 0.0
    heat_A2s: float = 0.0
    heated: HeatedState | None = None
    excesses: tuple[Excess, ...] = ()
    resting_bins: int = 0
    rest_in_drive_s: float = 0.0
    charging_late_s: float = 0.0
    pulse_W: float | None = None

    @property
    def loaded_s(self) -> float:
        """Time of driving and charging [s]."""
        return self.drive.duration_s + self.charging_s - self.rest_in_drive_s

    @property
    def loaded_fraction(self) -> FloatArray:
        """Share of the time under load in each bin, 1 or 0, shape (n,)."""
        place = np.arange(self.bins.time_s.size)
        return np.where(place < place.size - self.resting_bins, 1.0, 0.0)


def build_day(drive: Drive, source: Source, charging: Charging, *, ambient_at_test_K: float | None = None) -> Day:
    """Complete a drive to a repeated working day.

    Args:
        drive: The day's driving.
        source: The source driven.
        charging: How the source is brought back.
        ambient_at_test_K: Ambient temperature during the measurement [K]; with it a measured temperature is shifted
            with the season, without it the measured temperature is used as it is all year.

    Raises:
        AssessmentError: Drive and charging together take longer than a day.
    """
    if charging.whole_log:
        return _log(drive, source, ambient_at_test_K)
    stages = charge_stages(source, charging, drive.drawn_As)
    charging_s = sum(stage.length_s for stage in stages)
    if drive.duration_s + charging_s > SECONDS_PER_DAY * (1.0 + _ROUNDING):
        if drive.duration_s > SECONDS_PER_DAY * (1.0 + _ROUNDING) or not _takes_more_than_there_is(drive, source):
            raise AssessmentError(
                f"The working day of the {source.kind} does not fit into 24 h: {drive.duration_s / 3600:.1f} h of "
                f"driving and {charging_s / 3600:.1f} h of charging. Lower service.day.drive_repeats or raise "
                "service.day.charge_c_rate."
            )
        # No charging brings back what the source never held. That it cannot deliver the day is the answer; a day that
        # closes is not needed for it.
        charging_s = max(SECONDS_PER_DAY - drive.duration_s, 0.0)
        stages = [ChargeStage(charging.current_A or 0.0, charging_s, CURRENT_STEPS)] if charging_s > 0.0 else []
    wait_s = charging.wait_s(drive.duration_s, charging_s)
    rest_s = max(SECONDS_PER_DAY - drive.duration_s - wait_s - charging_s, 0.0)
    charged_As = sum(stage.charge_As for stage in stages)
    rest = rest_state(source, drive.drawn_As - charged_As, charged=charging_s > 0.0)
    after_drive = _after_drive(drive, ambient_at_test_K)
    wait_bins, after_wait = _rest(source, wait_s, (source.start_soc, drive.drawn_As), after_drive)
    charge_bins, after_charge, charge_means = _charge(drive, source, stages, after_wait)
    rest_bins, next_morning = _rest(source, rest_s, rest, after_charge)
    season = Season.of(drive, ambient_at_test_K)
    drive_bins = _drive_bins(drive.time_at_state, season, source.start_soc, source.hot_spot_K)
    cycles = _cycles(drive, source, stages, charge_means, rest, ambient_at_test_K)
    wanted_As = drive.drawn_As - (source.start_soc - charging.to_soc) * source.capacity_As
    return Day(
        drive=drive,
        bins=Bins.concatenated([drive_bins, *charge_bins, wait_bins, rest_bins]),
        cycles=cycles,
        cycle_ambient_share=season.share(cycles.size),
        cycle_fixed_K=season.fixed_K(cycles.measured_K) + source.hot_spot_K,
        length_s=SECONDS_PER_DAY,
        # The same day every day: what is left of the rise in the morning is what the day before left.
        starting_rise_K=_settled_rise_K(next_morning.rise_K, next_morning.decay),
        charging_s=charging_s,
        squared_A2s=drive.squared_A2s + sum(stage.current_A * stage.charge_As for stage in stages),
        throughput_As=drive.throughput_As + charged_As,
        open_charge_As=drive.drawn_As - charged_As,
        held_back_As=max(wanted_As - charged_As, 0.0) if charging.current_A else 0.0,
        heat_A2s=drive.heat_A2s + drive.stored_A2s + charging_heat_A2s(source, stages, drive.drawn_As),
        heated=HeatedState.of(drive, season.ambient_share, season.shift_K),
        resting_bins=wait_bins.time_s.size + rest_bins.time_s.size,
        charging_late_s=_late_s(charging, drive.duration_s, charging_s),
    )


def _late_s(charging: Charging, driven_s: float, charging_s: float) -> float:
    if charging.ends_after_s is None or charging_s <= 0.0:
        return 0.0
    return max(driven_s + charging_s - charging.ends_after_s, 0.0)


def rest_state(source: Source, open_charge_As: float, *, charged: bool) -> tuple[float, float]:
    """Where a source rests after the day: a state of charge [0..1], and the charge drawn from there [As].

    A bank is brought to its rest voltage. A battery stays where it is if it stands above where charging would have
    ended, or if its voltage ended charging before.

    Args:
        source: The source.
        open_charge_As: Net charge the day did not bring back [As].
        charged: Whether there was anything to charge.
    """
    rest, left = source.rest_soc, source.start_soc - open_charge_As / source.capacity_As
    if rest is None:
        return source.start_soc, open_charge_As
    stays = left < rest - _ROUNDING if charged else left > rest + _ROUNDING
    if source.is_battery and stays:
        return source.start_soc, open_charge_As
    return rest, 0.0


def _takes_more_than_there_is(drive: Drive, source: Source) -> bool:
    return drive.shortage > 0.0 or drive.highest_As > source.start_soc * source.capacity_As


def _log(drive: Drive, source: Source, ambient_at_test_K: float | None) -> Day:
    """A log of everything, as it is, in a row with itself: its first morning is as warm as its last evening."""
    table = charging_together(log_cycles(drive), drive.small_As, drive.charging_mean_A)
    if table.size > GROUP_ABOVE:
        table = group(table, source.capacity_As, drive.cycle_rate)
    season = Season.of(drive, ambient_at_test_K)
    loaded = _drive_bins(drive.time_at_state, season, source.start_soc, source.hot_spot_K)
    at_rest = _drive_bins(drive.time_at_rest, season, source.start_soc, 0.0)
    return Day(
        drive=drive,
        bins=Bins.concatenated([loaded, at_rest]),
        cycles=table,
        cycle_ambient_share=season.share(table.size),
        cycle_fixed_K=season.fixed_K(table.measured_K) + source.hot_spot_K,
        length_s=drive.duration_s,
        starting_rise_K=_settled_rise_K(drive.end_rise_K, drive.end_decay),
        charging_s=0.0,
        squared_A2s=drive.squared_A2s,
        throughput_As=drive.throughput_As,
        open_charge_As=drive.drawn_As,
        heat_A2s=drive.heat_A2s + drive.stored_A2s,
        heated=HeatedState.of(drive, season.ambient_share, season.shift_K),
        resting_bins=at_rest.time_s.size,
        rest_in_drive_s=float(at_rest.time_s.sum()),
    )


def _settled_rise_K(rise_K: float, decay: float) -> float:
    """Rise at the start that comes back at the end [K]; a cold start ends at ``rise_K``, a warm one keeps ``decay``."""
    return rise_K / (1.0 - decay) if decay < 1.0 else 0.0


def _after_drive(drive: Drive, ambient_at_test_K: float | None) -> DayTemperature:
    if drive.end_measured_K is None:
        return DayTemperature(1.0, 0.0, drive.end_rise_K, drive.end_decay)
    if ambient_at_test_K is None:
        return DayTemperature(0.0, drive.end_measured_K, 0.0, 0.0)
    return DayTemperature(1.0, drive.end_measured_K - ambient_at_test_K, 0.0, 0.0)


def _kept(source: Source, edges_s: FloatArray) -> tuple[FloatArray, float]:
    """Mean share kept of a distance from the steady state in each stretch between edges, and the share at the end."""
    if source.thermal is None:
        return np.zeros(edges_s.size - 1), 0.0
    tau = source.thermal.time_constant_s
    shares = np.exp(-edges_s / tau)
    return -tau * np.diff(shares) / np.diff(edges_s), float(shares[-1])


def _drive_bins(states: TimeAtState, season: Season, start_soc: float, hot_spot_K: float) -> Bins:
    n = states.time_s.size
    return Bins(
        time_s=states.time_s,
        soc=np.full(n, start_soc),
        charge_As=states.charge_As,
        ambient_share=season.share(n),
        fixed_K=season.fixed_K(states.measured_K) + hot_spot_K,
        rise_K=states.rise_K,
        decay=states.decay,
    )


def _charge(
    drive: Drive, source: Source, stages: list[ChargeStage], start: DayTemperature
) -> tuple[list[Bins], DayTemperature, list[DayTemperature]]:
    """Bins of the charging phase, the course after it, and the mean course of each stage."""
    bins, means, drawn_As = [], [], drive.drawn_As
    for stage in stages:
        steady = 0.0
        if source.thermal is not None:
            resistance_ohm = source.resistance_ohm * steady_factor(source, stage, drawn_As)
            steady = stage.current_A**2 * resistance_ohm * source.thermal.resistance_K_per_W
        edges = np.linspace(0.0, stage.length_s, stage.steps + 1)
        kept, kept_at_end = _kept(source, edges)
        share, fixed, rise, decay = start.relaxed(kept, steady)
        bins.append(
            Bins(
                time_s=np.diff(edges),
                soc=np.full(stage.steps, source.start_soc),
                charge_As=drawn_As - stage.current_A * (0.5 * (edges[:-1] + edges[1:])),
                ambient_share=share,
                fixed_K=fixed + source.hot_spot_K,
                rise_K=rise,
                decay=decay,
            )
        )
        means.append(start.at(float(kept.mean()), steady))
        start = start.at(kept_at_end, steady)
        drawn_As -= stage.charge_As
    return bins, start, means


def _rest(
    source: Source, rest_s: float, rest: tuple[float, float], start: DayTemperature
) -> tuple[Bins, DayTemperature]:
    """Bins of a rest, and the temperature at its end."""
    if rest_s <= 0.0:
        return Bins.none(), start
    edges = _REST_EDGES * rest_s
    kept, kept_at_end = _kept(source, edges)
    share, fixed, rise, decay = start.relaxed(kept, 0.0)
    n = kept.size
    bins = Bins(
        time_s=np.diff(edges),
        soc=np.full(n, rest[0]),
        charge_As=np.full(n, rest[1]),
        ambient_share=share,
        fixed_K=fixed,
        rise_K=rise,
        decay=decay,
    )
    return bins, start.at(kept_at_end, 0.0)


def _cycles(
    drive: Drive,
    source: Source,
    stages: list[ChargeStage],
    charge_means: list[DayTemperature],
    rest: tuple[float, float],
    ambient_at_test_K: float | None,
) -> CycleTable:
    """The repeated day's cycles."""
    points = drive.open_points
    for stage, mean in zip(stages, charge_means, strict=True):
        points = _append(points, _charged(points[:, -1:], stage, mean, drive, ambient_at_test_K))
    # Its running time stands still: the night belongs to no half cycle.
    at_rest = points[:, -1:].copy()
    at_rest[CHARGE] = rest[1] + (source.start_soc - rest[0]) * source.capacity_As
    points = _append(points, at_rest)
    table = join([drive.cycles, from_points(close_loop(ends_joined(points), running_from=THROUGHPUT))])
    table = charging_together(table, drive.small_As, drive.charging_mean_A)
    if table.size > GROUP_ABOVE:
        table = group(table, source.capacity_As, drive.cycle_rate)
    return table


def _charged(
    last: FloatArray, stage: ChargeStage, mean: DayTemperature, drive: Drive, ambient_at_test_K: float | None
) -> FloatArray:
    """The counting point at the end of a stage of charging: charge back, integrals carried on."""
    amount = stage.charge_As
    point = last.copy()
    point[CHARGE] -= amount
    point[THROUGHPUT] += amount
    point[CHARGED] += amount
    point[CHARGING_TIME] += stage.length_s
    point[TIME] += stage.length_s
    point[RESTED] = 0.0
    point[SQUARED] += stage.current_A * amount
    point[RISE] += mean.rise_K * amount
    point[DECAY] += mean.decay * amount
    if drive.end_measured_K is not None:
        # Cycles carry one temperature: that of the test, which the season then shifts as a whole.
        at_test = drive.end_measured_K if ambient_at_test_K is None else mean.fixed_K + ambient_at_test_K
        point[MEASURED] += at_test * amount
    return point


def _append(points: FloatArray, point: FloatArray) -> FloatArray:
    return np.concatenate([points, point], axis=1)
