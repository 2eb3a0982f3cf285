"""LFP/graphite, 3 Ah: four mechanisms after Schimpe et al., with cold-charging damage.

M. Schimpe, M. E. von Kuepach, M. Naumann, H. C. Hesse, K. Smith, A. Jossen, J. Electrochem. Soc. 165 (2018) A181-A193,
doi 10.1149/2.1181714jes. Capacity only. ``q = k_cal sqrt(t) + k_hT sqrt(Q_tot) + k_lT sqrt(Q_ch) + k_lTs Q_ch`` with
t in hours, Q_tot charge plus discharge and Q_ch charge alone in ampere-hours of the 3 Ah reference cell.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from lifetime.ageing.accumulate import stack_clocks, turn
from lifetime.ageing.arrhenius import arrhenius_factor
from lifetime.ageing.coefficients import Unit
from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.ageing.validity import Validity, outside_notices, percent, share_inside, share_where
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR, ZERO_CELSIUS_K
from lifetime.notices import Notice

_LARGEST_EXPONENT = 300.0
_NO_LIMIT = 20.0
"""C-rate above any duty, for the model without its limit; a number, so that no exponential overflows [1/h]."""
_NO_FLOOR_K = 200.0
"""Colder than any cell works [K]."""
_MECHANISMS = (
    Mechanism("calendar_capacity", "calendar"),
    Mechanism("high_temperature_capacity", "cycle"),
    Mechanism("low_temperature_capacity", "cycle"),
    Mechanism("low_temperature_high_soc_capacity", "cycle"),
)

_SMALLEST_DEPTH = 1e-12
"""Below this a cycle has no charging half to speak of; only keeps 0/0 away."""


def anode_potential_V(
    x: FloatArray,
    *,
    constant_V: float,
    exponential_V: float,
    exponential_rate: float,
    tanh_V: Sequence[float],
    tanh_centre: Sequence[float],
    tanh_width: Sequence[float],
) -> FloatArray:
    """Graphite open-circuit potential against lithium, Ua(xa).

    Args:
        x: Degree of lithiation of the anode [0..1].
        constant_V: Constant part [V].
        exponential_V: Height of the exponential [V].
        exponential_rate: Its decay [1].
        tanh_V: Heights of the hyperbolic tangents [V].
        tanh_centre: Their centres [1].
        tanh_width: Their widths [1].

    Returns:
        Potential [V].

    Source: Schimpe et al. 2018, doi 10.1149/2.1181714jes.
    """
    # Far below empty, where only a step of the projection that is then shortened asks, the exponential would overflow.
    potential = constant_V + exponential_V * np.exp(np.minimum(-exponential_rate * x, _LARGEST_EXPONENT))
    for height, centre, width in zip(tanh_V, tanh_centre, tanh_width, strict=True):
        step = (x - centre) / width
        step = np.tanh(step)
        step *= height
        potential = potential + step
    return potential


def calendar_soc_factor(
    Ua: FloatArray, *, alpha: float, faraday: float, R: float, T_ref: float, Ua_ref: float, k0: float
) -> FloatArray:
    """``exp[alpha F/R (Ua_ref - Ua)/T_ref] + k0``, the SOC factor of the calendar term.

    Args:
        Ua: Anode potential [V].
        alpha: Charge-transfer factor [1].
        faraday: Faraday constant [C/mol].
        R: Gas constant [J/(mol K)].
        T_ref: Reference temperature [K]; the source takes it here, not the cell's temperature.
        Ua_ref: Anode potential at which the exponential is 1 [V].
        k0: Constant share [1].

    Source: Schimpe et al. 2018.
    """
    factor = Ua_ref - Ua
    factor *= alpha * faraday / (R * T_ref)
    factor = np.exp(factor)
    factor += k0
    return factor


def charge_rate_factor(charge_c_rate: FloatArray, *, beta: float, reference: float) -> FloatArray:
    """``exp[beta (I_ch - I_ref)/C_0]``, the charging-rate factor of the low-temperature terms.

    Args:
        charge_c_rate: Mean charging current of the half cycle over capacity [1/h]; tests up to about 1. An
            instantaneous pulse does not belong here: 3 C would multiply the low-temperature term by 196.
        beta: Sensitivity [h].
        reference: Rate at which the factor is 1 [1/h]; 3 A over 3 Ah.

    Source: Schimpe et al. 2018.
    """
    exponent = charge_c_rate - reference
    exponent *= beta
    return np.exp(exponent)


def charge_share_above(mean_soc: FloatArray, depth: FloatArray, *, threshold: float) -> FloatArray:
    """Share of a cycle's charging half that runs above a state of charge.

    The source switches the high-SOC term by a step, 0 below and 1 above the threshold; a cycle that crosses the
    threshold is switched for the part of its charge above it.

    Args:
        mean_soc: Mean of the cycle's two ends [0..1].
        depth: Cycle depth [0..1].
        threshold: State of charge of the step [0..1], 0.82.

    Returns:
        Share [0..1].
    """
    share = (mean_soc - threshold) / np.maximum(depth, _SMALLEST_DEPTH)
    share += 0.5
    return np.clip(share, 0.0, 1.0, out=share)


@dataclass(frozen=True, slots=True)
class SchimpeLaw:
    """Calendar, high-temperature throughput, low-temperature charge, and low-temperature charge at high SOC.

    The mean charging rate is held at ``charge_c_rate_limit``. The high-SOC term has an activation energy of
    233 kJ/mol and explodes in the cold (597 % per 1000 cycles at 0 °C), so its temperature is not taken below
    ``high_soc_temperature_floor_K``, where it stands at about 16 % per 1000 cycles with 18 % of the charge above the
    threshold. Both are announced by :meth:`range_notices`.
    """

    gas_constant_J_per_mol_K: Annotated[float, Unit("J/(mol K)", positive=True)]
    faraday_C_per_mol: Annotated[float, Unit("C/mol", positive=True)]
    reference_temperature_K: Annotated[float, Unit("K", positive=True)]
    reference_capacity_Ah: Annotated[float, Unit("Ah", positive=True)]
    calendar_rate: Annotated[float, Unit("h^-0.5", positive=True)]
    calendar_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    calendar_alpha: Annotated[float, Unit("1")]
    calendar_constant: Annotated[float, Unit("1")]
    calendar_reference_potential_V: Annotated[float, Unit("V")]
    anode_constant_V: Annotated[float, Unit("V")]
    anode_exponential_V: Annotated[float, Unit("V")]
    anode_exponential_rate: Annotated[float, Unit("1")]
    anode_tanh_V: Annotated[tuple[float, ...], Unit("V")]
    anode_tanh_centre: Annotated[tuple[float, ...], Unit("1", like="anode_tanh_V")]
    anode_tanh_width: Annotated[tuple[float, ...], Unit("1", positive=True, like="anode_tanh_V")]
    lithiation_empty: Annotated[float, Unit("1")]
    lithiation_full: Annotated[float, Unit("1", positive=True)]
    high_temperature_rate: Annotated[float, Unit("Ah^-0.5", positive=True)]
    high_temperature_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    low_temperature_rate: Annotated[float, Unit("Ah^-0.5", positive=True)]
    low_temperature_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    low_temperature_beta_h: Annotated[float, Unit("h")]
    high_soc_rate: Annotated[float, Unit("Ah^-1", positive=True)]
    high_soc_activation_J_per_mol: Annotated[float, Unit("J/mol")]
    high_soc_beta_h: Annotated[float, Unit("h")]
    high_soc_threshold: Annotated[float, Unit("1")]
    high_soc_temperature_floor_K: Annotated[float, Unit("K", positive=True)]
    charge_c_rate_reference: Annotated[float, Unit("1/h", positive=True)]
    charge_c_rate_limit: Annotated[float, Unit("1/h", positive=True)]
    validity: Validity

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """The four terms of the source."""
        return _MECHANISMS

    @property
    def sees(self) -> frozenset[Sight]:
        """Charging rate and cold, heat, storage; no depth and no discharge rate."""
        return frozenset({"charge_c_rate", "cycle_mean_soc", "temperature", "cycle_temperature", "soc"})

    @property
    def has_resistance(self) -> bool:
        """The source models capacity only."""
        return False

    def _arrhenius(self, T: FloatArray, activation_J_per_mol: float) -> FloatArray:
        return arrhenius_factor(
            T,
            activation_J_per_mol=activation_J_per_mol,
            gas_constant_J_per_mol_K=self.gas_constant_J_per_mol_K,
            reference_temperature_K=self.reference_temperature_K,
        )

    def anode_potential_V(self, s: FloatArray) -> FloatArray:
        """Ua [V] at SOC s [0..1]."""
        return anode_potential_V(
            self.lithiation_empty + s * (self.lithiation_full - self.lithiation_empty),
            constant_V=self.anode_constant_V,
            exponential_V=self.anode_exponential_V,
            exponential_rate=self.anode_exponential_rate,
            tanh_V=self.anode_tanh_V,
            tanh_centre=self.anode_tanh_centre,
            tanh_width=self.anode_tanh_width,
        )

    def calendar_coefficient(self, T: FloatArray, s: FloatArray) -> FloatArray:
        """k_cal [h^-0.5] at temperature T [K] and SOC s [0..1]."""
        rate = self._arrhenius(T, self.calendar_activation_J_per_mol)
        rate *= self.calendar_rate
        return rate * calendar_soc_factor(
            self.anode_potential_V(s),
            alpha=self.calendar_alpha,
            faraday=self.faraday_C_per_mol,
            R=self.gas_constant_J_per_mol_K,
            T_ref=self.reference_temperature_K,
            Ua_ref=self.calendar_reference_potential_V,
            k0=self.calendar_constant,
        )

    def high_temperature_coefficient(self, T: FloatArray) -> FloatArray:
        """k_hT [Ah^-0.5] at temperature T [K], on total throughput."""
        rate = self._arrhenius(T, self.high_temperature_activation_J_per_mol)
        rate *= self.high_temperature_rate
        return rate

    def low_temperature_coefficient(self, T: FloatArray, charge_c_rate: FloatArray) -> FloatArray:
        """k_lT [Ah^-0.5] at temperature T [K] and charging rate [1/h] (held at the limit), on charge throughput."""
        rate = self._arrhenius(T, self.low_temperature_activation_J_per_mol)
        rate *= self.low_temperature_rate
        held = np.minimum(charge_c_rate, self.charge_c_rate_limit)
        return rate * charge_rate_factor(held, beta=self.low_temperature_beta_h, reference=self.charge_c_rate_reference)

    def high_soc_coefficient(self, T: FloatArray, charge_c_rate: FloatArray) -> FloatArray:
        """k_lTs [Ah^-1] above the threshold, at temperature T [K] (not below the floor) and charging rate [1/h]."""
        rate = self._arrhenius(np.maximum(T, self.high_soc_temperature_floor_K), self.high_soc_activation_J_per_mol)
        rate *= self.high_soc_rate
        held = np.minimum(charge_c_rate, self.charge_c_rate_limit)
        return rate * charge_rate_factor(held, beta=self.high_soc_beta_h, reference=self.charge_c_rate_reference)

    def clocks(self, stress: Stress) -> FloatArray:
        """Turn the clocks: squared losses for the three root terms, the loss itself for the linear one."""
        k_cal = self.calendar_coefficient(stress.temperature_K, stress.soc)
        k_hT = self.high_temperature_coefficient(stress.cycle_temperature_K)
        k_lT = self.low_temperature_coefficient(stress.cycle_temperature_K, stress.charge_c_rate)
        share = charge_share_above(stress.mean_soc, stress.depth, threshold=self.high_soc_threshold)
        if share.any():
            k_lTs = share * self.high_soc_coefficient(stress.cycle_temperature_K, stress.charge_c_rate)
            high_soc: FloatArray | float = self.reference_capacity_Ah * turn(k_lTs, stress.throughput_fec)
        else:
            high_soc = 0.0
        k_cal *= k_cal
        k_hT *= k_hT
        k_lT *= k_lT
        return stack_clocks(
            turn(k_cal, stress.duration_s) / SECONDS_PER_HOUR,
            2.0 * self.reference_capacity_Ah * turn(k_hT, stress.throughput_fec),  # charge plus discharge
            self.reference_capacity_Ah * turn(k_lT, stress.throughput_fec),  # charge alone
            high_soc,
        )

    def fade(self, clocks: FloatArray) -> Health:
        """The four losses add; no resistance part."""
        capacity = 1.0 - self.capacity_loss_by_mechanism(clocks).sum(axis=-1)
        return Health(capacity, np.ones_like(capacity))

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Square root of the three root clocks, the linear clock as it is."""
        loss = np.sqrt(clocks)
        loss[..., 3] = clocks[..., 3]
        return loss

    def without_limits(self) -> AgeingLaw:
        """Schimpe without the highest tested charging rate and without the floor of the high-charge term."""
        return replace(self, charge_c_rate_limit=_NO_LIMIT, high_soc_temperature_floor_K=_NO_FLOOR_K)

    def share_in_range(self, stress: Stress) -> float:
        """Share of time or throughput inside the tests."""
        return share_inside(stress, self.validity)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """Say what lies outside the tests, and where the charging rate or the high-SOC term was held."""
        notices = outside_notices(stress, self.validity, {"charge_c_rate_above_range": None})
        fast = stress.charge_c_rate > self.charge_c_rate_limit * (1.0 + 1e-9)
        if (held := share_where(fast, stress.throughput_fec)) > 0.0:
            message = (
                f"{percent(held)} of the throughput is charged faster than {self.charge_c_rate_limit:g} C on average, "
                f"the highest rate tested; the model is held there, so damage by cold charging is understated."
            )
            notices.append(Notice("charge_c_rate_held", message))
        share = charge_share_above(stress.mean_soc, stress.depth, threshold=self.high_soc_threshold)
        cold = (share > 0.0) & (stress.cycle_temperature_K < self.high_soc_temperature_floor_K)
        if (capped := share_where(cold, stress.throughput_fec)) > 0.0:
            floor_K = self.high_soc_temperature_floor_K
            at_floor, colder = self._arrhenius(np.array([floor_K, floor_K - 5.0]), self.high_soc_activation_J_per_mol)
            message = (
                f"{percent(capped)} of the throughput charges above {100 * self.high_soc_threshold:.3g} % colder "
                f"than {floor_K - ZERO_CELSIUS_K:.3g} °C, where the model's high-charge term grows "
                f"{colder / at_floor:.3g} times per 5 K; it is held at that temperature. Avoid such charging, and do "
                f"not trust the figure."
            )
            notices.append(Notice("cold_high_soc_charge_capped", message))
        return notices
