"""LFP/graphite 26650, 2.2 Ah: power law in discharged ampere-hours up to 10 C, after Wang et al.

J. Wang, P. Liu, J. Hicks-Garner, E. Sherman, S. Soukiazian, M. Verbrugge, H. Tataria, J. Musser, P. Finamore,
J. Power Sources 196 (2011) 3942-3948, doi 10.1016/j.jpowsour.2010.11.134. Capacity only, cycle tests only.

Two rules here are ours, because the law as printed misleads a comparison of designs: the rate factor is held constant
below ``c_rate_hold`` (as printed, 2 C wears less than C/2, most likely because slow tests contain more calendar
ageing), and calendar loss after Naumann et al. 2018 is added so that a resting pack ages. The cycle tests contain
calendar loss already, so the sum counts some of it twice.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from lifetime.ageing.accumulate import stack_clocks, turn
from lifetime.ageing.coefficients import Unit
from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.ageing.naumann import calendar_capacity_coefficient
from lifetime.ageing.validity import Validity, outside_notices, percent, share_inside, share_where
from lifetime.checks import FloatArray
from lifetime.notices import Notice

_MECHANISMS = (Mechanism("calendar_capacity", "calendar"), Mechanism("cycle_capacity", "cycle"))


def pre_exponential(C: FloatArray, *, c_rates: Sequence[float], table: Sequence[float]) -> FloatArray:
    """B at a C-rate, ln B straight in C between the table's points, held at the ends.

    Args:
        C: C-rate [1/h].
        c_rates: Rates of the table, rising [1/h].
        table: B there [% Ah^-z].

    Returns:
        B [% Ah^-z].

    Source: table of Wang et al. 2011; the interpolation is ours.
    """
    return np.exp(np.interp(C, c_rates, np.log(table)))


def coefficient_percent(
    B: FloatArray | float, C: FloatArray, T: FloatArray, *, Ea: float, slope: float, R: float
) -> FloatArray:
    """B exp[-(Ea - slope C)/(R T)], the coefficient of Ah^z.

    Args:
        B: Pre-exponential factor [% Ah^-z].
        C: C-rate [1/h]; tests 0.5..10.
        T: Temperature [K]; fitted on 288..333 K.
        Ea: Activation energy [J/mol].
        slope: Fall of the activation energy with the C-rate [J h/mol].
        R: Gas constant [J/(mol K)].

    Returns:
        Coefficient [% Ah^-z]; Ah is discharged ampere-hours of the 2.2 Ah cell.

    Source: Wang et al. 2011.
    """
    return B * np.exp((slope * C - Ea) / (R * T))


@dataclass(frozen=True, slots=True)
class WangLaw:
    """Cycle loss B(C) exp[-(Ea - slope C)/(R T)] Ah^z plus a borrowed calendar loss."""

    gas_constant_J_per_mol_K: Annotated[float, Unit("J/(mol K)", positive=True)]
    reference_discharge_Ah_per_fec: Annotated[float, Unit("Ah", positive=True)]
    throughput_exponent: Annotated[float, Unit("1", positive=True)]
    activation_J_per_mol: Annotated[float, Unit("J/mol")]
    activation_c_rate_slope: Annotated[float, Unit("J h/mol")]
    pre_exponential_c_rates: Annotated[tuple[float, ...], Unit("1/h", positive=True, rising=True)]
    pre_exponential_percent: Annotated[
        tuple[float, ...], Unit("% Ah^-z", positive=True, like="pre_exponential_c_rates")
    ]
    c_rate_base_Ah: Annotated[float, Unit("Ah", positive=True)]
    c_rate_hold: Annotated[float, Unit("1/h", positive=True)]
    calendar_reference_temperature_K: Annotated[float, Unit("K", positive=True)]
    calendar_capacity_rate: Annotated[float, Unit("s^-0.5", positive=True)]
    calendar_capacity_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    calendar_capacity_soc_cubic: Annotated[float, Unit("1")]
    calendar_soc_centre: Annotated[float, Unit("1")]
    calendar_capacity_soc_constant: Annotated[float, Unit("1", positive=True)]
    validity: Validity

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """Borrowed calendar loss and cycle loss."""
        return _MECHANISMS

    @property
    def sees(self) -> frozenset[Sight]:
        """Discharge rate from the hold to the end of the table, temperature; SOC through the borrowed calendar part."""
        return frozenset({"discharge_c_rate", "cycle_temperature", "temperature", "soc"})

    @property
    def has_resistance(self) -> bool:
        """The source models capacity only."""
        return False

    def discharge_rate(self, stress: Stress) -> FloatArray:
        """Discharge rate as the source counts it [1/h]: 1 C is ``c_rate_base_Ah`` of its cell per hour."""
        return stress.discharge_c_rate * (self.reference_discharge_Ah_per_fec / self.c_rate_base_Ah)

    def cycle_coefficient_percent(self, C: FloatArray, T: FloatArray) -> FloatArray:
        """Coefficient [% Ah^-z] at C-rate C [1/h] and T [K], the rate held below the hold and above the table."""
        held = np.clip(C, self.c_rate_hold, self.pre_exponential_c_rates[-1])
        return coefficient_percent(
            pre_exponential(held, c_rates=self.pre_exponential_c_rates, table=self.pre_exponential_percent),
            held,
            T,
            Ea=self.activation_J_per_mol,
            slope=self.activation_c_rate_slope,
            R=self.gas_constant_J_per_mol_K,
        )

    def clocks(self, stress: Stress) -> FloatArray:
        """Turn the clocks: squared calendar loss over seconds, k^(1/z) over discharged ampere-hours."""
        k_cal = calendar_capacity_coefficient(
            stress.temperature_K,
            stress.soc,
            k_ref=self.calendar_capacity_rate,
            Ea=self.calendar_capacity_activation_J_per_mol,
            R=self.gas_constant_J_per_mol_K,
            T_ref=self.calendar_reference_temperature_K,
            a=self.calendar_capacity_soc_cubic,
            s0=self.calendar_soc_centre,
            c=self.calendar_capacity_soc_constant,
        )
        k_cal *= k_cal
        k_cyc = self.cycle_coefficient_percent(self.discharge_rate(stress), stress.cycle_temperature_K)
        k_cyc *= 0.01
        np.power(k_cyc, 1.0 / self.throughput_exponent, out=k_cyc)
        return stack_clocks(
            turn(k_cal, stress.duration_s),
            self.reference_discharge_Ah_per_fec * turn(k_cyc, stress.throughput_fec),
        )

    def fade(self, clocks: FloatArray) -> Health:
        """Losses add; no resistance part."""
        capacity = 1.0 - np.sqrt(clocks[..., 0]) - clocks[..., 1] ** self.throughput_exponent
        return Health(capacity, np.ones_like(capacity))

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Calendar and cycle loss."""
        loss = np.empty_like(clocks)
        loss[..., 0] = np.sqrt(clocks[..., 0])
        loss[..., 1] = clocks[..., 1] ** self.throughput_exponent
        return loss

    def without_limits(self) -> AgeingLaw:
        """Wang as printed, where lower rates age more."""
        return replace(self, c_rate_hold=self.pre_exponential_c_rates[0])

    def share_in_range(self, stress: Stress) -> float:
        """Share of time or throughput inside the tests."""
        return share_inside(replace(stress, c_rate=self.discharge_rate(stress)), self.validity)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """Say what lies outside the tests, and for what share the rate was held."""
        top = f"the rate factor is held at {self.pre_exponential_c_rates[-1]:g} C, so ageing is understated."
        rate = self.discharge_rate(stress)
        consequences = {"c_rate_above_range": top, "c_rate_below_range": None}
        notices = outside_notices(replace(stress, c_rate=rate), self.validity, consequences)
        if (slow := share_where(rate < self.c_rate_hold, stress.throughput_fec)) > 0.0:
            message = (
                f"{percent(slow)} of the throughput runs below {self.c_rate_hold:g} C, where the model as printed "
                f"would age more at lower rates; the rate factor is held constant there (our rule), so the model "
                f"cannot reward a lower rate below {self.c_rate_hold:g} C."
            )
            notices.append(Notice("c_rate_factor_constant", message, "note"))
        return notices
