"""NMC/graphite 18650, 2.05 Ah: capacity and resistance after Schmalstieg et al.

J. Schmalstieg, S. Kaebitz, M. Ecker, D. U. Sauer, J. Power Sources 257 (2014) 325-334,
doi 10.1016/j.jpowsour.2014.02.012. Time in days, throughput in total (charge plus discharge) ampere-hours of the
reference cell. The cycle part has neither a C-rate nor a temperature term.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from lifetime.ageing.accumulate import stack_clocks, turn
from lifetime.ageing.coefficients import Unit
from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.ageing.validity import Validity, outside_notices, percent, share_inside, share_where
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_DAY, ZERO_CELSIUS_K
from lifetime.notices import Notice

_NO_FLOOR_K = 200.0
"""Colder than any cell works [K]."""
_MECHANISMS = (
    Mechanism("calendar_capacity", "calendar"),
    Mechanism("calendar_resistance", "calendar"),
    Mechanism("cycle_capacity", "cycle"),
    Mechanism("cycle_resistance", "cycle"),
)


def calendar_coefficient(
    V: FloatArray, T: FloatArray, *, slope: float, intercept: float, activation_K: float
) -> FloatArray:
    """``(slope V + intercept) exp(-activation/T)``: a_cap or a_res.

    Args:
        V: Open-circuit voltage during storage [V]; the line turns negative below about 3.15 V.
        T: Temperature [K]; tests 308..338 K.
        slope: Voltage slope [day^-0.75 / V].
        intercept: Voltage intercept [day^-0.75].
        activation_K: Activation temperature [K].

    Returns:
        Coefficient of t^0.75, t in days [day^-0.75], not below 0.

    Source: Schmalstieg et al. 2014.
    """
    rate = np.exp(-activation_K / T)
    return rate * np.maximum(slope * V + intercept, 0.0)


def cycle_coefficient(
    Vm: FloatArray, d: FloatArray, *, curvature: float, centre_V: float, constant: float, depth_slope: float
) -> FloatArray:
    """``curvature (Vm - centre)^2 + constant + depth_slope d``: b_cap or b_res.

    Args:
        Vm: Quadratic mean of the voltage over the cycle [V].
        d: Cycle depth [0..1].
        curvature: Voltage curvature [unit of the result / V^2].
        centre_V: Voltage of least wear [V].
        constant: Constant part.
        depth_slope: Increase from depth 0 to 1.

    Returns:
        b_cap [Ah^-0.5] or b_res [Ah^-1].

    Source: Schmalstieg et al. 2014.
    """
    shifted = Vm - centre_V
    shifted *= shifted
    shifted *= curvature
    shifted += constant
    return shifted + depth_slope * d


@dataclass(frozen=True, slots=True)
class SchmalstiegLaw:
    """Capacity: a t^0.75 + b sqrt(Q); resistance: a t^0.75 + b Q.

    Three floors keep the fit from turning against itself: temperature and voltage of the calendar part, and the cycle
    resistance coefficient (the paper's own floor). ``capacity_scale`` and ``resistance_scale`` multiply the
    coefficients of both parts; 1 for the reference cell.
    """

    reference_throughput_Ah_per_fec: Annotated[float, Unit("Ah", positive=True)]
    calendar_exponent: Annotated[float, Unit("1", positive=True)]
    calendar_capacity_voltage_slope: Annotated[float, Unit("day^-0.75/V")]
    calendar_capacity_voltage_intercept: Annotated[float, Unit("day^-0.75")]
    calendar_capacity_activation_K: Annotated[float, Unit("K")]
    calendar_resistance_voltage_slope: Annotated[float, Unit("day^-0.75/V")]
    calendar_resistance_voltage_intercept: Annotated[float, Unit("day^-0.75")]
    calendar_resistance_activation_K: Annotated[float, Unit("K")]
    calendar_temperature_floor_K: Annotated[float, Unit("K", positive=True)]
    calendar_voltage_floor_V: Annotated[float, Unit("V", positive=True)]
    cycle_capacity_voltage_curvature: Annotated[float, Unit("Ah^-0.5/V^2")]
    cycle_capacity_voltage_centre_V: Annotated[float, Unit("V")]
    cycle_capacity_constant: Annotated[float, Unit("Ah^-0.5")]
    cycle_capacity_depth_slope: Annotated[float, Unit("Ah^-0.5")]
    cycle_resistance_voltage_curvature: Annotated[float, Unit("Ah^-1/V^2")]
    cycle_resistance_voltage_centre_V: Annotated[float, Unit("V")]
    cycle_resistance_constant: Annotated[float, Unit("Ah^-1")]
    cycle_resistance_depth_slope: Annotated[float, Unit("Ah^-1")]
    cycle_resistance_floor: Annotated[float, Unit("Ah^-1", positive=True)]
    capacity_scale: Annotated[float, Unit("1", positive=True)]
    resistance_scale: Annotated[float, Unit("1", positive=True)]
    validity: Validity

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """Calendar and cycle, capacity and resistance."""
        return _MECHANISMS

    @property
    def sees(self) -> frozenset[Sight]:
        """Voltage (through SOC) and temperature at rest; depth and mean voltage in cycles; no current amplitude."""
        return frozenset({"depth", "cycle_mean_soc", "temperature", "soc"})

    @property
    def has_resistance(self) -> bool:
        """Both parts grow the resistance."""
        return True

    def calendar_capacity_coefficient(self, V: FloatArray, T: FloatArray) -> FloatArray:
        """a_cap [day^-0.75] at V [V] and T [K], floors and scale applied."""
        return self.capacity_scale * calendar_coefficient(
            np.maximum(V, self.calendar_voltage_floor_V),
            np.maximum(T, self.calendar_temperature_floor_K),
            slope=self.calendar_capacity_voltage_slope,
            intercept=self.calendar_capacity_voltage_intercept,
            activation_K=self.calendar_capacity_activation_K,
        )

    def calendar_resistance_coefficient(self, V: FloatArray, T: FloatArray) -> FloatArray:
        """a_res [day^-0.75] at V [V] and T [K], floors and scale applied."""
        return self.resistance_scale * calendar_coefficient(
            np.maximum(V, self.calendar_voltage_floor_V),
            np.maximum(T, self.calendar_temperature_floor_K),
            slope=self.calendar_resistance_voltage_slope,
            intercept=self.calendar_resistance_voltage_intercept,
            activation_K=self.calendar_resistance_activation_K,
        )

    def cycle_capacity_coefficient(self, Vm: FloatArray, d: FloatArray) -> FloatArray:
        """b_cap [Ah^-0.5] at rms voltage Vm [V] and depth d [0..1], scale applied."""
        return self.capacity_scale * cycle_coefficient(
            Vm,
            d,
            curvature=self.cycle_capacity_voltage_curvature,
            centre_V=self.cycle_capacity_voltage_centre_V,
            constant=self.cycle_capacity_constant,
            depth_slope=self.cycle_capacity_depth_slope,
        )

    def unfloored_cycle_resistance(self, Vm: FloatArray, d: FloatArray) -> FloatArray:
        """b_res [Ah^-1] at rms voltage Vm [V] and depth d [0..1] before floor and scale; negative for small depths."""
        return cycle_coefficient(
            Vm,
            d,
            curvature=self.cycle_resistance_voltage_curvature,
            centre_V=self.cycle_resistance_voltage_centre_V,
            constant=self.cycle_resistance_constant,
            depth_slope=self.cycle_resistance_depth_slope,
        )

    def cycle_resistance_coefficient(self, Vm: FloatArray, d: FloatArray) -> FloatArray:
        """b_res [Ah^-1] at rms voltage Vm [V] and depth d [0..1], floor and scale applied."""
        return self.resistance_scale * np.maximum(self.unfloored_cycle_resistance(Vm, d), self.cycle_resistance_floor)

    def clocks(self, stress: Stress) -> FloatArray:
        """Turn the clocks: k^(4/3) over days, k^2 over ampere-hours, and the resistance growth of cycling itself."""
        power = 1.0 / self.calendar_exponent
        a_cap = self.calendar_capacity_coefficient(stress.voltage_V, stress.temperature_K)
        a_res = self.calendar_resistance_coefficient(stress.voltage_V, stress.temperature_K)
        b_cap = self.cycle_capacity_coefficient(stress.rms_voltage_V, stress.depth)
        b_res = self.cycle_resistance_coefficient(stress.rms_voltage_V, stress.depth)
        b_cap *= b_cap
        np.power(a_cap, power, out=a_cap)
        np.power(a_res, power, out=a_res)
        return stack_clocks(
            turn(a_cap, stress.duration_s) / SECONDS_PER_DAY,
            turn(a_res, stress.duration_s) / SECONDS_PER_DAY,
            self.reference_throughput_Ah_per_fec * turn(b_cap, stress.throughput_fec),
            self.reference_throughput_Ah_per_fec * turn(b_res, stress.throughput_fec),
        )

    def fade(self, clocks: FloatArray) -> Health:
        """Losses add, and so do the two parts of the resistance growth."""
        lost = clocks[..., 0] ** self.calendar_exponent + np.sqrt(clocks[..., 2])
        return Health(1.0 - lost, 1.0 + clocks[..., 1] ** self.calendar_exponent + clocks[..., 3])

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Calendar and cycle loss; the resistance clocks take no capacity."""
        loss = np.zeros_like(clocks)
        loss[..., 0] = clocks[..., 0] ** self.calendar_exponent
        loss[..., 2] = np.sqrt(clocks[..., 2])
        return loss

    def without_limits(self) -> AgeingLaw:
        """Schmalstieg with calendar ageing that goes on slowing down in the cold."""
        return replace(self, calendar_temperature_floor_K=_NO_FLOOR_K)

    def share_in_range(self, stress: Stress) -> float:
        """Share of time or throughput inside the tests."""
        return share_inside(stress, self.validity)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """Say what lies outside the tests, and for what share each floor was used."""
        notices = outside_notices(stress, self.validity, {})
        if (cold := share_where(stress.temperature_K < self.calendar_temperature_floor_K, stress.duration_s)) > 0.0:
            floor_C = self.calendar_temperature_floor_K - ZERO_CELSIUS_K
            message = (
                f"{percent(cold)} of the time is colder than {floor_C:.3g} °C, where the model is not valid; calendar "
                f"ageing is held at its value there, so cold storage is not rewarded."
            )
            notices.append(Notice("calendar_temperature_held", message, "note"))
        if (low := share_where(stress.voltage_V < self.calendar_voltage_floor_V, stress.duration_s)) > 0.0:
            message = (
                f"{percent(low)} of the time is below {self.calendar_voltage_floor_V:g} V, where the model's "
                f"calendar coefficient turns negative; it is held at its value there."
            )
            notices.append(Notice("calendar_voltage_held", message))
        negative = self.unfloored_cycle_resistance(stress.rms_voltage_V, stress.depth) < self.cycle_resistance_floor
        if (small := share_where(negative, stress.throughput_fec)) > 0.0:
            message = (
                f"{percent(small)} of the throughput is in cycles so shallow that the model's cycle resistance term "
                f"falls below its published floor of {self.cycle_resistance_floor:g} per Ah; the floor is used."
            )
            notices.append(Notice("cycle_resistance_floored", message, "note"))
        return notices
