"""LFP/graphite, 3 Ah 26650: calendar and cycle ageing after Naumann et al.

Calendar: M. Naumann, M. Schimpe, P. Keil, H. C. Hesse, A. Jossen, J. Energy Storage 17 (2018) 153-169,
doi 10.1016/j.est.2018.01.019. Cycle: M. Naumann, F. B. Spingler, A. Jossen, J. Power Sources 451 (2020) 227666,
doi 10.1016/j.jpowsour.2019.227666. The cycle loss is net of the calendar loss, so the two add.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from lifetime.ageing.accumulate import stack_clocks, turn
from lifetime.ageing.arrhenius import inverse_temperature_difference
from lifetime.ageing.coefficients import Unit
from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.ageing.validity import Validity, outside_notices, percent, share_inside, share_where
from lifetime.checks import FloatArray
from lifetime.notices import Notice

_NO_LIMIT = 20.0
"""C-rate above any duty, for the model without its limit; a number, so that no exponential overflows [1/h]."""
_MECHANISMS = (
    Mechanism("calendar_capacity", "calendar"),
    Mechanism("calendar_resistance", "calendar"),
    Mechanism("cycle_capacity", "cycle"),
    Mechanism("cycle_resistance", "cycle"),
)


def cubic(x: FloatArray, *, cubic_term: float, centre: float, constant: float) -> FloatArray:
    """Return ``cubic_term * (x - centre)**3 + constant``, the form of kS_q, kD_q and kD_r.

    Args:
        x: SOC or depth [0..1].
        cubic_term: Factor of the cube [1].
        centre: Where the cube is zero [0..1].
        constant: Value there [1].

    Source: Naumann et al. 2018 and 2020.
    """
    shifted = x - centre
    result = shifted * shifted
    result *= shifted
    result *= cubic_term
    result += constant
    return result


def calendar_capacity_coefficient(
    T: FloatArray, s: FloatArray, *, k_ref: float, Ea: float, R: float, T_ref: float, a: float, s0: float, c: float
) -> FloatArray:
    """k_q of the calendar capacity loss ``q_cal = k_q * sqrt(t)``.

    Args:
        T: Temperature [K]; tests 273..333 K.
        s: SOC [0..1].
        k_ref: Rate at ``T_ref`` [s^-0.5].
        Ea: Activation energy [J/mol].
        R: Gas constant [J/(mol K)].
        T_ref: Reference temperature [K].
        a: Cubic SOC term [1].
        s0: SOC where the cube is zero [0..1].
        c: SOC factor there [1].

    Returns:
        k_q [s^-0.5]; loss as a fraction.

    Source: Naumann et al. 2018, doi 10.1016/j.est.2018.01.019.
    """
    rate = np.exp((-Ea / R) * inverse_temperature_difference(T, T_ref))
    rate *= k_ref
    return rate * cubic(s, cubic_term=a, centre=s0, constant=c)


def calendar_resistance_rate(
    T: FloatArray,
    s: FloatArray,
    *,
    k_ref: float,
    Ea: float,
    R: float,
    T_ref: float,
    quadratic: float,
    s0: float,
    constant: float,
) -> FloatArray:
    """Slope of the calendar resistance growth ``r_cal = rate * t``.

    Args:
        T: Temperature [K]; tests 273..333 K.
        s: SOC [0..1].
        k_ref: Rate at ``T_ref`` [1/s].
        Ea: Activation energy [J/mol].
        R: Gas constant [J/(mol K)].
        T_ref: Reference temperature [K].
        quadratic: Quadratic SOC term, signed [1]; 0 evaluates the factor at ``s0``.
        s0: SOC where the quadratic term is zero [0..1].
        constant: SOC factor there [1].

    Returns:
        Growth rate [1/s] of the resistance over its initial value.

    Source: Naumann et al. 2018, doi 10.1016/j.est.2018.01.019.
    """
    rate = np.exp((-Ea / R) * inverse_temperature_difference(T, T_ref))
    if quadratic == 0.0:
        rate *= k_ref * constant
        return rate
    shifted = s - s0
    rate *= k_ref
    return rate * np.maximum(quadratic * shifted * shifted + constant, 0.0)


def cycle_coefficient_percent(
    C: FloatArray,
    d: FloatArray,
    *,
    slope: float,
    intercept: float,
    cubic_term: float,
    centre: float,
    constant: float,
) -> FloatArray:
    """kC(C) * kD(d), in percent per root FEC for capacity, in percent per FEC for resistance.

    Args:
        C: C-rate of the cycle, mean of charge and discharge [1/h]; tests 0.2..1.
        d: Cycle depth [0..1].
        slope: Slope of kC [% h].
        intercept: kC at zero rate [%].
        cubic_term: Cubic term of kD [1].
        centre: Depth where the cube is zero [0..1].
        constant: kD there [1].

    Returns:
        Coefficient [%], floored at 0 where the straight line in C turns negative (resistance above about 1.1 to
        1.3 C).

    Source: Naumann et al. 2020, doi 10.1016/j.jpowsour.2019.227666.
    """
    rate_factor = np.maximum(slope * C + intercept, 0.0)
    return rate_factor * cubic(d, cubic_term=cubic_term, centre=centre, constant=constant)


@dataclass(frozen=True, slots=True)
class NaumannLaw:
    """Calendar (sqrt of time) plus cycle (sqrt of FEC) capacity loss, resistance growth linear in time and FEC.

    Two things of the source were read differently and are therefore switched by a weight in the profile: the quadratic
    SOC term of the resistance growth, whose sign the authors' storage data settle (``calendar_resistance_soc_weight`` 0
    evaluates it at the centre), and the cycle resistance, of which two versions exist (``cycle_resistance_weight`` 0
    leaves it out).
    The C-rate is held at ``c_rate_limit`` in the rate factor; :meth:`range_notices` says for what share.
    """

    gas_constant_J_per_mol_K: Annotated[float, Unit("J/(mol K)", positive=True)]
    reference_temperature_K: Annotated[float, Unit("K", positive=True)]
    calendar_soc_centre: Annotated[float, Unit("1")]
    calendar_capacity_rate: Annotated[float, Unit("s^-0.5", positive=True)]
    calendar_capacity_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    calendar_capacity_soc_cubic: Annotated[float, Unit("1")]
    calendar_capacity_soc_constant: Annotated[float, Unit("1", positive=True)]
    calendar_resistance_rate: Annotated[float, Unit("1/s", positive=True)]
    calendar_resistance_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    calendar_resistance_soc_quadratic: Annotated[float, Unit("1")]
    calendar_resistance_soc_constant: Annotated[float, Unit("1", positive=True)]
    calendar_resistance_soc_weight: Annotated[float, Unit("1")]
    cycle_capacity_rate_slope: Annotated[float, Unit("% h")]
    cycle_capacity_rate_constant: Annotated[float, Unit("%")]
    cycle_capacity_depth_cubic: Annotated[float, Unit("1")]
    cycle_capacity_depth_centre: Annotated[float, Unit("1")]
    cycle_capacity_depth_constant: Annotated[float, Unit("1", positive=True)]
    cycle_resistance_rate_slope: Annotated[float, Unit("% h")]
    cycle_resistance_rate_constant: Annotated[float, Unit("%")]
    cycle_resistance_depth_cubic: Annotated[float, Unit("1")]
    cycle_resistance_depth_centre: Annotated[float, Unit("1")]
    cycle_resistance_depth_constant: Annotated[float, Unit("1", positive=True)]
    cycle_resistance_weight: Annotated[float, Unit("1")]
    c_rate_limit: Annotated[float, Unit("1/h", positive=True)]
    validity: Validity

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """The four clocks; the last stands still while ``cycle_resistance_weight`` is 0."""
        return _MECHANISMS

    @property
    def sees(self) -> frozenset[Sight]:
        """C-rate up to the limit, depth, storage temperature and SOC; the cycle part has no temperature term."""
        return frozenset({"c_rate", "depth", "temperature", "soc"})

    @property
    def has_resistance(self) -> bool:
        """Resistance grows, by storage and by cycling."""
        return True

    def clocks(self, stress: Stress) -> FloatArray:
        """Turn the clocks: capacity clocks hold squared loss, resistance clocks hold growth itself."""
        R, T_ref, s0 = self.gas_constant_J_per_mol_K, self.reference_temperature_K, self.calendar_soc_centre
        k_q = calendar_capacity_coefficient(
            stress.temperature_K,
            stress.soc,
            k_ref=self.calendar_capacity_rate,
            Ea=self.calendar_capacity_activation_J_per_mol,
            R=R,
            T_ref=T_ref,
            a=self.calendar_capacity_soc_cubic,
            s0=s0,
            c=self.calendar_capacity_soc_constant,
        )
        k_r = calendar_resistance_rate(
            stress.temperature_K,
            stress.soc,
            k_ref=self.calendar_resistance_rate,
            Ea=self.calendar_resistance_activation_J_per_mol,
            R=R,
            T_ref=T_ref,
            quadratic=self.calendar_resistance_soc_weight * self.calendar_resistance_soc_quadratic,
            s0=s0,
            constant=self.calendar_resistance_soc_constant,
        )
        k_c = self._cycle_capacity_percent(stress)
        k_q *= k_q
        k_c *= k_c
        return stack_clocks(
            turn(k_q, stress.duration_s),
            turn(k_r, stress.duration_s),
            turn(k_c, stress.throughput_fec) * 1e-4,  # the coefficient is in percent; a percent squared is 1e-4
            self._cycle_resistance_clock(stress),
        )

    def _cycle_capacity_percent(self, stress: Stress) -> FloatArray:
        return cycle_coefficient_percent(
            np.minimum(stress.c_rate, self.c_rate_limit),
            stress.depth,
            slope=self.cycle_capacity_rate_slope,
            intercept=self.cycle_capacity_rate_constant,
            cubic_term=self.cycle_capacity_depth_cubic,
            centre=self.cycle_capacity_depth_centre,
            constant=self.cycle_capacity_depth_constant,
        )

    def _cycle_resistance_clock(self, stress: Stress) -> FloatArray | float:
        if self.cycle_resistance_weight == 0.0:
            return 0.0
        slope_percent = cycle_coefficient_percent(
            np.minimum(stress.c_rate, self.c_rate_limit),
            stress.depth,
            slope=self.cycle_resistance_rate_slope,
            intercept=self.cycle_resistance_rate_constant,
            cubic_term=self.cycle_resistance_depth_cubic,
            centre=self.cycle_resistance_depth_centre,
            constant=self.cycle_resistance_depth_constant,
        )
        # kD_r is 0.063 at depth 0 and positive above, so no clock runs backwards inside 0..1
        return self.cycle_resistance_weight * 0.01 * turn(np.maximum(slope_percent, 0.0), stress.throughput_fec)

    def fade(self, clocks: FloatArray) -> Health:
        """Loss is the sum of the two square roots; resistance grows by the sum of its two clocks."""
        lost = np.sqrt(clocks[..., 0]) + np.sqrt(clocks[..., 2])
        return Health(1.0 - lost, 1.0 + clocks[..., 1] + clocks[..., 3])

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Calendar and cycle loss; the resistance clocks take no capacity."""
        loss = np.zeros_like(clocks)
        loss[..., 0] = np.sqrt(clocks[..., 0])
        loss[..., 2] = np.sqrt(clocks[..., 2])
        return loss

    def without_limits(self) -> AgeingLaw:
        """Naumann without the highest tested C-rate."""
        return replace(self, c_rate_limit=_NO_LIMIT)

    def share_in_range(self, stress: Stress) -> float:
        """Share of time or throughput inside the tests."""
        return share_inside(stress, self.validity)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """Say what lies outside the tests, and for what share the C-rate was held."""
        notices = outside_notices(stress, self.validity, {"c_rate_above_range": None})
        held = share_where(stress.c_rate > self.c_rate_limit * (1.0 + 1e-9), stress.throughput_fec)
        if held > 0.0:
            message = (
                f"{percent(held)} of the throughput runs above {self.c_rate_limit:g} C, the highest rate tested; the "
                f"cycle model is held at its value for {self.c_rate_limit:g} C, so ageing at higher rates is "
                "understated."
            )
            notices.append(Notice("c_rate_held", message))
        return notices
