"""LMO/graphite: one damage index from rainflow cycles and time, one map to capacity, after Xu et al.

B. Xu, A. Oudalov, A. Ulbig, G. Andersson, D. S. Kirschen, IEEE Trans. Smart Grid 9 (2018) 1131-1140,
doi 10.1109/TSG.2016.2578950. Capacity only; no C-rate term. The wear of a cycle per unit of throughput *rises* below a
depth of about 10 % (2.1 times at 1 % against 80 %), so tiny cycles that come from noise in the state of charge must be
filtered out before counting.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from lifetime.ageing.accumulate import share_loss, stack_clocks, turn
from lifetime.ageing.coefficients import Unit
from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.ageing.validity import Validity, outside_notices, share_inside
from lifetime.checks import FloatArray
from lifetime.notices import Notice

_MECHANISMS = (Mechanism("calendar", "calendar"), Mechanism("cycling", "cycle"))


def depth_stress(d: FloatArray, *, k1: float, k2: float, k3: float) -> FloatArray:
    """S_d = 1/(k1 d^k2 + k3), damage per full cycle.

    Written as ``d^-k2 / (k1 + k3 d^-k2)``, the same number without the division by zero at depth 0.

    Args:
        d: Cycle depth [0..1]; the form has a pole near 1.295.
        k1: First coefficient [1], 1.40e5.
        k2: Exponent [1], negative.
        k3: Second coefficient [1], negative.

    Returns:
        Damage per cycle [1].

    Source: Xu et al. 2018.
    """
    power = np.power(d, -k2)
    return power / (k1 + k3 * power)


def soc_stress(s: FloatArray, *, k: float, s_ref: float) -> FloatArray:
    """S_s = exp[k (s - s_ref)].

    Args:
        s: SOC or mean SOC of a cycle [0..1].
        k: Sensitivity [1].
        s_ref: SOC where the factor is 1 [0..1].

    Source: Xu et al. 2018.
    """
    exponent = s - s_ref
    exponent *= k
    return np.exp(exponent)


def temperature_stress(T: FloatArray, *, k: float, T_ref: float) -> FloatArray:
    """S_T = exp[k (T - T_ref) T_ref/T].

    Args:
        T: Temperature [K]; meant for 288..333 K.
        k: Sensitivity [1/K].
        T_ref: Temperature where the factor is 1 [K].

    Source: Xu et al. 2018.
    """
    exponent = T_ref / T
    exponent -= 1.0
    exponent *= -k * T_ref  # k (T - T_ref) T_ref / T = -k T_ref (T_ref / T - 1)
    return np.exp(exponent)


def capacity_loss(f_d: FloatArray, *, a_sei: float, b_sei: float) -> FloatArray:
    """L = 1 - a exp(-b f_d) - (1 - a) exp(-f_d).

    Args:
        f_d: Damage index [1], >= 0.
        a_sei: Capacity taken by forming the surface film [fraction].
        b_sei: How much faster it forms [1].

    Returns:
        Capacity loss [fraction].

    Source: Xu et al. 2018.
    """
    loss: FloatArray = -a_sei * np.expm1(-b_sei * f_d) - (1.0 - a_sei) * np.expm1(-f_d)
    return loss


@dataclass(frozen=True, slots=True)
class XuLaw:
    """Two linear clocks, calendar and cycling, and one map of their sum.

    The calendar index is integrated over the states the cell stands in; the paper multiplies time by the stress at the
    mean state, which is the same for constant conditions. A depth above ``depth_limit`` is held there, short of the
    form's pole.
    """

    calendar_rate_per_s: Annotated[float, Unit("1/s", positive=True)]
    depth_k1: Annotated[float, Unit("1", positive=True)]
    depth_k2: Annotated[float, Unit("1")]
    depth_k3: Annotated[float, Unit("1")]
    depth_limit: Annotated[float, Unit("1", positive=True)]
    soc_sensitivity: Annotated[float, Unit("1")]
    soc_reference: Annotated[float, Unit("1")]
    temperature_sensitivity_per_K: Annotated[float, Unit("1/K")]
    temperature_reference_K: Annotated[float, Unit("K", positive=True)]
    sei_share: Annotated[float, Unit("1")]
    sei_rate: Annotated[float, Unit("1", positive=True)]
    validity: Validity

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """Damage by time and damage by cycles."""
        return _MECHANISMS

    @property
    def sees(self) -> frozenset[Sight]:
        """Depth, mean SOC and temperature of cycles, SOC and temperature at rest; no current amplitude."""
        return frozenset({"depth", "cycle_mean_soc", "temperature", "cycle_temperature", "soc"})

    @property
    def has_resistance(self) -> bool:
        """The source models capacity only."""
        return False

    def _state_stress(self, s: FloatArray, T: FloatArray) -> FloatArray:
        return soc_stress(s, k=self.soc_sensitivity, s_ref=self.soc_reference) * temperature_stress(
            T, k=self.temperature_sensitivity_per_K, T_ref=self.temperature_reference_K
        )

    def clocks(self, stress: Stress) -> FloatArray:
        """Turn the two parts of the damage index f_d."""
        per_cycle = depth_stress(
            np.minimum(stress.depth, self.depth_limit), k1=self.depth_k1, k2=self.depth_k2, k3=self.depth_k3
        ) * self._state_stress(stress.mean_soc, stress.cycle_temperature_K)
        standing = turn(self._state_stress(stress.soc, stress.temperature_K), stress.duration_s)
        return stack_clocks(self.calendar_rate_per_s * standing, turn(per_cycle, stress.count))

    def _loss(self, clocks: FloatArray) -> FloatArray:
        return capacity_loss(clocks[..., 0] + clocks[..., 1], a_sei=self.sei_share, b_sei=self.sei_rate)

    def fade(self, clocks: FloatArray) -> Health:
        """Capacity from the sum of the clocks; no resistance part."""
        capacity = 1.0 - self._loss(clocks)
        return Health(capacity, np.ones_like(capacity))

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Loss shared in proportion to the damage index."""
        return share_loss(self._loss(clocks), clocks)

    def without_limits(self) -> AgeingLaw:
        """Nothing but the depth at the pole of its form is held."""
        return self

    def share_in_range(self, stress: Stress) -> float:
        """Share of time or throughput inside the tests."""
        return share_inside(stress, self.validity)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """Say what lies outside the law's temperatures and depths."""
        tiny = (
            "such cycles age the cell more per unit of throughput than deep ones in this model (2.1 times at 1 % "
            "depth), so check that they are real and not noise in the state of charge."
        )
        deep = f"the depth is held at {100 * self.depth_limit:.3g} %."
        return outside_notices(stress, self.validity, {"depth_below_range": tiny, "depth_above_range": deep})
