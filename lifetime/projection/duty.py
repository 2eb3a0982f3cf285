"""The duty of a year as stress on one cell, at any health and in every month."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.ageing.contract import Stress
from lifetime.checks import FloatArray
from lifetime.constants import DAYS_PER_YEAR, MONTHS_PER_YEAR, SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.projection.ambient import Ambient
from lifetime.projection.recurring import Recurring
from lifetime.projection.season import SeasonalResistance
from lifetime.stress.counting import EVERY_CYCLE, CycleCounting
from lifetime.stress.cycles import CycleTable
from lifetime.stress.day import Day, rest_state
from lifetime.stress.source import Source

Wear = Literal["none", "capacity", "resistance", "both"]

_GAUSS_POINTS = np.sqrt(3.0 / 5.0) * np.array([-1.0, 0.0, 1.0])
_GAUSS_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0


@dataclass(frozen=True, slots=True)
class WornDay:
    """A day traced at one health, and how the present health calls on it.

    A current-driven day is the same in charge at any health, so one trace (``none``) serves. A power-driven day is
    traced new and worn, and at the resistances of cold and warm months; between the traces its clocks are blended in
    proportion to what differs, up to the traced wear.

    Args:
        day: The traced day.
        wear: Which part of health was worn when it was traced.
        capacity_fraction: Capacity over initial at which it was traced [1].
        resistance_ratio: Resistance over the stated one, by health and temperature, at which it was traced [1].
        months: Months, counted from 0, whose limits it was traced at; empty for those that no other day is for.
    """

    day: Day
    wear: Wear
    capacity_fraction: float = 1.0
    resistance_ratio: float = 1.0
    months: tuple[int, ...] = ()

    def without_small_cycles(self, range_As: float) -> "WornDay":
        """The same day without its small cycles; extremes do not move.

        Args:
            range_As: Charge of a cycle from end to end that is left out still [As]; 0 leaves out none.
        """
        if range_As <= 0.0:
            return self
        keep = self.day.cycles.range_As > range_As
        day = replace(
            self.day,
            cycles=CycleTable(*(column[keep] for column in self.day.cycles.columns())),
            cycle_ambient_share=self.day.cycle_ambient_share[keep],
            cycle_fixed_K=self.day.cycle_fixed_K[keep],
        )
        return replace(self, day=day)


class Duty:
    """Stress of an average day of the year on one cell of a source.

    Args:
        source: The source.
        days: Traced days; the first must be the new one (wear ``none``).
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        runs_per_year: How often a year holds a traced day [1/year]; what it leaves of the year is rest.
        counting: How cycles are weighed, and what their C-rate is.
        starts_at_hour: Hour of the day at which the drive begins [0..24), or None where it is not known.
        beside: What a worn bank makes of it; None where nothing does.
    """

    def __init__(
        self,
        source: Source,
        days: Sequence[WornDay],
        ambient_K: FloatArray,
        runs_per_year: float,
        counting: CycleCounting = EVERY_CYCLE,
        starts_at_hour: float | None = None,
        beside: "DutyBesideWornBank | None" = None,
    ) -> None:
        self._source = source
        self.counting = counting
        self.beside = beside
        self.days = tuple(days)
        driven_s = days[0].day.drive.duration_s
        ambient = Ambient.around(source, ambient_K, starts_at_hour=starts_at_hour, driven_s=driven_s)
        self._ambient = ambient
        self._month = np.arange(ambient.driving_K.size) * MONTHS_PER_YEAR // ambient.driving_K.size
        self._month_groups = list(dict.fromkeys(worn.months for worn in days))
        self._working = runs_per_year / DAYS_PER_YEAR
        self._bins = [self._day_bins(worn.day) for worn in days]
        bins = np.concatenate([*self._bins, self._rest_day(days[0].day)], axis=1)
        cycles = np.concatenate([self._day_cycles(worn.day) for worn in days], axis=1)
        self._time, self._soc, self._charge, share, fixed, self._rise = bins
        self._count, self._range, self._mean, self._rate, self._charge_rate, self._discharge_rate = cycles[:6]
        cycle_share, cycle_fixed, self._cycle_rise = cycles[6:]
        # What the season and the measurement make of temperature does not change with health.
        around_K, self._time_weight = self._around_bins()
        self._base_K = share * around_K + fixed
        self._cycle_base_K = cycle_share * ambient.driving_K.reshape(-1, 1) + cycle_fixed
        self._bin_of = np.repeat(np.arange(len(days) + 1), [*(part.shape[1] for part in self._bins), 1])
        self._cycle_of = np.repeat(np.arange(len(days)), [worn.day.cycles.size for worn in days])
        # A day that is not worked is rest.
        self._loaded = np.concatenate([*(worn.day.loaded_fraction for worn in days), [0.0]])
        loaded = days[0].day.loaded_s
        squared = days[0].day.squared_A2s / loaded if loaded > 0.0 else 0.0
        self._season = SeasonalResistance(source.shape, days[0].day, ambient.driving_K)
        self._rms_cell_A = np.asarray(np.sqrt(squared) / source.parallel)

    def weights(self, capacity_fraction: float, resistance_ratio: float | FloatArray) -> FloatArray:
        """Share of each traced day in the present one; they sum to 1. Shares may fall below 0: clocks are linear.

        Args:
            capacity_fraction: Present capacity over initial [1], > 0.
            resistance_ratio: Present resistance over the stated one, by health and temperature [1], > 0, any shape.

        Returns:
            Shares, shape of ``resistance_ratio`` and an axis for the days, the new one first.
        """
        return self._shares((), capacity_fraction, resistance_ratio)

    def _shares(
        self, months: tuple[int, ...], capacity_fraction: float, resistance_ratio: float | FloatArray
    ) -> FloatArray:
        """Share of each day among those traced for some months; the others have none."""
        shares = np.zeros((*np.shape(resistance_ratio), len(self.days)))
        own = [place for place, worn in enumerate(self.days) if worn.months == months]
        by_resistance = [place for place in own if self.days[place].wear in ("none", "resistance")]
        by_resistance.sort(key=lambda place: self.days[place].resistance_ratio)
        known = [self.days[place].resistance_ratio for place in by_resistance]
        for column, place in enumerate(by_resistance):
            shares[..., place] = np.interp(resistance_ratio, known, np.eye(len(known))[column])
        for place in own:
            worn = self.days[place]
            if worn.wear in ("capacity", "both"):
                way = (1.0 - capacity_fraction) / max(1.0 - worn.capacity_fraction, 1e-12)
                shares[..., place] = min(max(way, 0.0), 1.0)
                shares[..., own[0]] -= shares[..., place]
        return shares

    def _shares_by_condition(self, capacity_fraction: float, resistance_ratio: float | FloatArray) -> FloatArray:
        """Share of each day in each of the season's temperatures; in months with limits of their own of their days."""
        if len(self._month_groups) == 1:
            return self.weights(capacity_fraction, resistance_ratio)
        ratio = np.broadcast_to(resistance_ratio, self._month.shape)
        shares = self.weights(capacity_fraction, ratio)
        for months in self._month_groups[1:]:
            among = np.isin(self._month, months)
            shares[among] = self._shares(months, capacity_fraction, ratio[among])
        return shares

    def resistance_factors(self, capacity_fraction: float, resistance_ratio: float) -> FloatArray:
        """Resistance of each month by its temperature [1], shape (12,); 1 at 25 °C.

        Args:
            capacity_fraction: Present capacity over initial [1], > 0.
            resistance_ratio: Present resistance over initial [1], > 0.
        """
        factors = self._factors(capacity_fraction, resistance_ratio)
        return self._ambient.by_month(self._ambient.driving_weight * factors)

    def heat_by_month(self) -> FloatArray:
        """Heat of each month's day over that of the typical day, at equal resistance [1], shape (12,)."""
        heat = np.ones(MONTHS_PER_YEAR)
        typical = self.days[0].day.heat_A2s
        for worn in self.days:
            if worn.months and worn.wear == "none" and typical > 0.0:
                heat[list(worn.months)] = worn.day.heat_A2s / typical
        return heat

    def by_month(self, turns: FloatArray) -> FloatArray:
        """What an average day in each month turns, shape (12, ...).

        Args:
            turns: Turns of the clocks by the stress of this duty, shape (n, ...).
        """
        return self._ambient.by_month(turns)

    def _factors(self, capacity_fraction: float, resistance_ratio: float) -> FloatArray:
        """Resistance of each of the season's temperatures [1], shape (n,)."""
        return self._season.factors(resistance_ratio * self._source.load_share(capacity_fraction) ** 2)

    def _around_bins(self) -> tuple[FloatArray, FloatArray | None]:
        """Temperature around the source in each bin [K], and its share of the month; None where that is all of it."""
        ambient = self._ambient
        if not ambient.is_hourly:
            return ambient.all_day_K.reshape(-1, 1), None
        driving: list[bool] = []
        for worn, part in zip(self.days, self._bins, strict=True):
            driven = worn.day.drive.time_at_state.time_s.size
            driving += [place < driven for place in range(part.shape[1])]
        columns = [
            np.where(driving, by_day.reshape(-1, 1), other.reshape(-1, 1))
            for by_day, other in (
                (ambient.driving_K, ambient.standing_K),
                (ambient.driving_weight, ambient.standing_weight),
            )
        ]
        around_K = np.concatenate([columns[0], ambient.all_day_K.reshape(-1, 1)], axis=1)
        return around_K, np.concatenate([columns[1], ambient.all_day_weight.reshape(-1, 1)], axis=1)

    def stress(self, capacity_fraction: float, resistance_ratio: float) -> Stress:
        """Stress of an average day in each month, for a source of the given health.

        A month that is known by the hour has several conditions, each with its share of the time and of the cycles, so
        that what they turn adds up to the month's.

        Args:
            capacity_fraction: Capacity over initial [1], > 0.
            resistance_ratio: Resistance over initial [1], > 0.

        Returns:
            Stress with 12 or 36 conditions; durations and counts are per average day of the year.
        """
        source = self._source
        load = source.load_share(capacity_fraction)
        capacity = source.capacity_As * capacity_fraction / load
        ratio: float | FloatArray = resistance_ratio
        if self._season.varies:
            ratio = resistance_ratio * self._factors(capacity_fraction, resistance_ratio)
        # Heat goes with the square of the current.
        warming = np.reshape(ratio, (-1, 1)) * load**2
        time, count = self._time, self._count
        if len(self.days) > 1:
            weights = self._shares_by_condition(capacity_fraction, ratio)
            time = time * np.append(weights, np.ones((*weights.shape[:-1], 1)), axis=-1)[..., self._bin_of]
            count = count * weights[..., self._cycle_of]
        if self._time_weight is not None:
            time = time * self._time_weight
            count = count * self._ambient.driving_weight.reshape(-1, 1)
        soc = self._soc - self._charge / capacity
        depth = self._range / capacity
        if self.counting.small_cycles != "all":
            count = count * self.counting.weight(depth)
        mean_soc = source.start_soc - self._mean / capacity
        per_hour = SECONDS_PER_HOUR / capacity
        return Stress(
            duration_s=time,
            soc=soc,
            temperature_K=self._base_K + warming * self._rise,
            voltage_V=self._cell_voltage(soc),
            count=count,
            depth=depth,
            mean_soc=mean_soc,
            c_rate=self._rate * per_hour,
            charge_c_rate=self._charge_rate * per_hour,
            discharge_c_rate=self._discharge_rate * per_hour,
            cycle_temperature_K=self._cycle_base_K + warming * self._cycle_rise,
            rms_voltage_V=self._rms_voltage(mean_soc, depth),
            throughput_fec=count * self._range * load / source.capacity_As,
            rms_current_A=self._rms_cell_A * load,
            loaded_fraction=self._loaded,
        )

    def _cell_voltage(self, soc: FloatArray) -> FloatArray:
        return np.asarray(self._source.open_circuit_V(soc) / self._source.series)

    def _rms_voltage(self, mean_soc: FloatArray, depth: FloatArray) -> FloatArray:
        """Quadratic mean of the open-circuit voltage over each cycle's range, by three-point Gauss quadrature."""
        points = mean_soc + 0.5 * depth * _GAUSS_POINTS.reshape(-1, 1)
        square: FloatArray = _GAUSS_WEIGHTS @ self._cell_voltage(points.reshape(-1)).reshape(points.shape) ** 2
        return np.asarray(np.sqrt(square))

    def _day_bins(self, day: Day) -> FloatArray:
        bins = day.bins
        # Heat of yesterday and of today grow with resistance alike, so they share a row.
        rise = bins.rise_K + day.starting_rise_K * bins.decay
        return np.stack([bins.time_s * self._working, bins.soc, bins.charge_As, bins.ambient_share, bins.fixed_K, rise])

    def _rest_day(self, day: Day) -> FloatArray:
        left_As = day.drive.drawn_As if self._source.rest_soc is None else day.open_charge_As
        soc, charge = rest_state(self._source, left_As, charged=day.charging_s > 0.0)
        rest_s = max(SECONDS_PER_DAY - self._working * day.length_s, 0.0)
        return np.array([[rest_s], [soc], [charge], [1.0], [0.0], [0.0]])

    def _day_cycles(self, day: Day) -> FloatArray:
        table = day.cycles
        if self.counting.cycle_rate == "time_mean":
            rates = (table.time_mean_rate_A, table.time_mean_charge_rate_A, table.time_mean_discharge_rate_A)
        else:
            rates = (table.rate_A, table.charge_rate_A, table.discharge_rate_A)
        rise = table.rise_K + day.starting_rise_K * table.decay
        return np.stack(
            [
                table.count * self._working,
                table.range_As,
                table.mean_As,
                *rates,
                day.cycle_ambient_share,
                day.cycle_fixed_K,
                rise,
            ]
        )


@dataclass(frozen=True, slots=True, eq=False)
class PartBesideWornBank:
    """What one day beside a worn bank changes, in place of the same months' day beside a new bank.

    Args:
        as_new: Duty of the day beside a new bank alone.
        worn: Duty of the day beside the worn bank alone.
        months: Months that it is for, shape (12,).
        share: How much of the worn day the years hold.
    """

    as_new: Duty
    worn: Duty
    months: NDArray[np.bool_]
    share: Recurring


@dataclass(frozen=True, slots=True, eq=False)
class DutyBesideWornBank:
    """What comes on top of a battery's duty as the bank beside it wears.

    Clocks are linear in the days' shares, so the difference of two days' turns is that of a day in place of another.

    Args:
        parts: By months and by the bank's wear.
    """

    parts: tuple[PartBesideWornBank, ...]

    def shares(self, months: int) -> FloatArray:
        """Share of each part in each month of a run, shape (months, parts).

        Args:
            months: Number of months, >= 0.
        """
        return np.stack([part.share.by_month(months) for part in self.parts], axis=-1)

    def turns(self, turned: Callable[[Duty], FloatArray]) -> FloatArray:
        """What each part comes to in each month, were it all there is, shape (parts, 12, mechanisms).

        Args:
            turned: Turns of the clocks under a duty, shape (12, mechanisms).
        """
        as_new = {id(part.as_new): part.as_new for part in self.parts}
        new = {key: turned(duty) for key, duty in as_new.items()}
        more = (turned(part.worn) - new[id(part.as_new)] for part in self.parts)
        return np.stack(
            [np.where(part.months.reshape(-1, 1), one, 0.0) for part, one in zip(self.parts, more, strict=True)]
        )
