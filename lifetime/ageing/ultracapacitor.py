"""Ultracapacitor (EDLC) ageing on one damage clock S; end of life at S = 1.

``dS/dt = 1/L(V, T)``: linear damage in time, integrated bin by bin because the mean of an exponential is not the
exponential of the mean. Temperature acts by doubling per so many kelvin (makers' rule of thumb) or by Arrhenius
(papers); voltage by doubling per so many volts. What S means for capacitance and ESR is a separate shape, so that
life to S = 1 does not depend on the shape chosen. ESR may run ahead of capacitance: its damage is ``rho S`` and, where
a coefficient is given, a current term of its own. V is the inner voltage of the weakest cell: what the resistance adds
at the terminals does not age a cell.

Sources of the forms: Kreczanik, Venet, Hijazi, Clerc, IEEE Trans. Ind. Electron. 61 (2014) 4895,
doi 10.1109/TIE.2013.2293695 (voltage, temperature, rms current); Bohlen, Kowal, Sauer, J. Power Sources 172 (2007) 468
and 173 (2007) 626, doi 10.1016/j.jpowsour.2007.07.021 and .059 (doubling rules, from memory); Uno, Tanaka, IEEE Trans.
Ind. Electron. 59 (2012) 4704, doi 10.1109/TIE.2011.2182018 (square-root shape, from memory).
"""

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import exp, log
from typing import Annotated, Literal

import numpy as np

from lifetime.ageing.accumulate import share_loss, stack_clocks, turn
from lifetime.ageing.cell_spread import CellSpread
from lifetime.ageing.coefficients import Unit
from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.ageing.validity import Validity, outside_notices, share_inside
from lifetime.checks import FloatArray
from lifetime.constants import BOLTZMANN_EV_PER_K, SECONDS_PER_HOUR
from lifetime.notices import Notice

FadeShape = Literal["linear", "square_root", "burn_in_linear"]

_MECHANISMS = (Mechanism("float", "calendar"), Mechanism("cycling", "cycle"))
_WITH_ESR_CURRENT = (*_MECHANISMS, Mechanism("esr_current", "calendar"))


def doubling_exponent(x: FloatArray, *, reference: float, doubling: float) -> FloatArray:
    """Return ln 2 * (x - reference) / doubling: the natural exponent of a rate that doubles every so much.

    Args:
        x: Temperature [K] or voltage [V].
        reference: Where the factor is 1, same unit.
        doubling: Step that doubles the rate, same unit, > 0.
    """
    exponent = x - reference
    exponent *= log(2.0) / doubling
    return exponent


def arrhenius_exponent(T: FloatArray, *, reference: float, activation_eV: float) -> FloatArray:
    """Return -Ea/k_B (1/T - 1/T_ref): the natural exponent of the Arrhenius form.

    Args:
        T: Temperature [K].
        reference: Temperature where the factor is 1 [K].
        activation_eV: Activation energy [eV], > 0.
    """
    exponent = np.reciprocal(T)
    exponent -= 1.0 / reference
    exponent *= -activation_eV / BOLTZMANN_EV_PER_K
    return exponent


def cycle_damage(depth: FloatArray, *, rated_swing: float, effective_cycles: float) -> FloatArray:
    """Damage of one rainflow cycle on the charge basis, (V_hi - V_lo) / (rated swing) / N_eff.

    Args:
        depth: Voltage swing over rated voltage [0..1].
        rated_swing: Swing of the rated cycle over rated voltage [0..1], 0.5 for V_R to V_R/2.
        effective_cycles: Cycles to end of life at the rated swing, net of float ageing during the test [1].

    Returns:
        Damage S per cycle [1].

    Source: throughput-equivalent engineering rule; no published exponent could be read.
    """
    return depth / (rated_swing * effective_cycles)


def fade_shape(
    S: FloatArray, shape: FadeShape, *, end_loss: float, burn_in_loss: float, burn_in_damage: float
) -> FloatArray:
    """How much of the end-of-life drift is reached at damage S; 1 at S = 1 for every shape.

    Args:
        S: Damage [1], >= 0.
        shape: ``linear`` S; ``square_root`` sqrt(S); ``burn_in_linear`` a fast first loss, then a straight line.
        end_loss: Capacitance loss at S = 1 [fraction].
        burn_in_loss: Loss taken by the first phase [fraction].
        burn_in_damage: Damage over which the first phase dies out [1].

    Returns:
        g(S) [1].
    """
    if shape == "linear":
        return np.array(S)
    if shape == "square_root":
        return np.sqrt(S)
    slope = end_loss - burn_in_loss * (1.0 - exp(-1.0 / burn_in_damage))
    burnt: FloatArray = burn_in_loss * -np.expm1(-S / burn_in_damage)
    return (burnt + slope * S) / end_loss


@dataclass(frozen=True, slots=True)
class UltracapacitorLaw(ABC):
    """What both temperature forms share; S = 1 at capacitance ``1 - end_loss`` and ESR ``1 + end_esr_rise``.

    Cycling damage and the rms-current factor are off (weight and coefficient 0) unless the profile turns them on:
    the cycle rating's own test contains float ageing, and no published current coefficient could be read. A profile
    may leave out the coefficients of ESR: it then rises in step with the loss of capacitance.
    """

    reference_life_h: Annotated[float, Unit("h", positive=True)]
    reference_temperature_K: Annotated[float, Unit("K", positive=True)]
    reference_voltage_V: Annotated[float, Unit("V", positive=True)]
    voltage_doubling_V: Annotated[float, Unit("V", positive=True)]
    rms_current_coefficient_per_A: Annotated[float, Unit("1/A")]
    effective_cycles: Annotated[float, Unit("1", positive=True)]
    rated_swing: Annotated[float, Unit("1", positive=True)]
    cycling_weight: Annotated[float, Unit("1")]
    end_loss: Annotated[float, Unit("1", positive=True)]
    end_esr_rise: Annotated[float, Unit("1", positive=True)]
    burn_in_loss: Annotated[float, Unit("1")]
    burn_in_damage: Annotated[float, Unit("1", positive=True)]
    shape: FadeShape
    validity: Validity
    esr_rate_ratio: Annotated[float, Unit("1", positive=True)] = field(default=1.0, kw_only=True)
    esr_rms_current_coefficient_per_A: Annotated[float, Unit("1/A")] = field(default=0.0, kw_only=True)
    spread: CellSpread | None = field(default=None, kw_only=True)

    @abstractmethod
    def temperature_exponent(self, T: FloatArray) -> FloatArray:
        """Natural exponent of the temperature factor of the damage rate.

        Args:
            T: Temperature [K].
        """

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """Damage from standing at voltage and temperature, from cycles, and of ESR alone by its own current term."""
        return _MECHANISMS if self.esr_rms_current_coefficient_per_A == 0.0 else _WITH_ESR_CURRENT

    @property
    def sees(self) -> frozenset[Sight]:
        """Temperature and voltage; depth and rms current only where their coefficient is not 0."""
        seen: set[Sight] = {"temperature", "soc"}
        if self.cycling_weight != 0.0:
            seen.add("depth")
        if self.rms_current_coefficient_per_A != 0.0 or self.esr_rms_current_coefficient_per_A != 0.0:
            seen.add("c_rate")
        return frozenset(seen)

    @property
    def has_resistance(self) -> bool:
        """ESR rises with the damage."""
        return True

    def damage_rate_per_s(self, V: FloatArray, T: FloatArray) -> FloatArray:
        """1/L: damage per second at a voltage and temperature, without the rms-current factor.

        Args:
            V: Capacitor voltage [V].
            T: Cell temperature [K].

        Returns:
            Damage rate [1/s].
        """
        exponent = self.temperature_exponent(T) + doubling_exponent(
            V, reference=self.reference_voltage_V, doubling=self.voltage_doubling_V
        )
        np.exp(exponent, out=exponent)
        exponent *= 1.0 / (self.reference_life_h * SECONDS_PER_HOUR)
        return exponent

    def clocks(self, stress: Stress) -> FloatArray:
        """Turn the damage clocks; a current acts on loaded time only, rest ages without it."""
        rate = self.damage_rate_per_s(self._worst_V(stress.voltage_V), stress.temperature_K)
        standing = turn(rate, stress.duration_s)
        if self.rms_current_coefficient_per_A != 0.0:
            standing = standing + self._by_current(rate, stress, self.rms_current_coefficient_per_A)
        cycling: FloatArray | float = 0.0
        if self.cycling_weight != 0.0:
            effective = self.effective_cycles / self.cycling_weight
            per_cycle = cycle_damage(stress.depth, rated_swing=self.rated_swing, effective_cycles=effective)
            cycling = turn(per_cycle, stress.count)
        if self.esr_rms_current_coefficient_per_A == 0.0:
            return stack_clocks(standing, cycling)
        esr_alone = self._by_current(rate, stress, self.esr_rms_current_coefficient_per_A)
        return stack_clocks(standing, cycling, esr_alone)

    def _worst_V(self, V: FloatArray) -> FloatArray:
        return V if self.spread is None else self.spread.worst_V(V)

    @staticmethod
    def _by_current(rate: FloatArray, stress: Stress, coefficient_per_A: float) -> FloatArray:
        """What the factor exp(coefficient * rms current) adds to the damage of the loaded time."""
        more: FloatArray = np.expm1(coefficient_per_A * stress.rms_current_A)
        return more * turn(rate, stress.duration_s * stress.loaded_fraction)

    def _shape(self, damage: FloatArray) -> FloatArray:
        return fade_shape(
            damage,
            self.shape,
            end_loss=self.end_loss,
            burn_in_loss=self.burn_in_loss,
            burn_in_damage=self.burn_in_damage,
        )

    def fade(self, clocks: FloatArray) -> Health:
        """Capacitance after damage S, the sum of its clocks, and ESR after ``esr_rate_ratio`` times S and its own."""
        damage = clocks[..., 0] + clocks[..., 1]
        esr_damage = self.esr_rate_ratio * damage
        if clocks.shape[-1] > len(_MECHANISMS):
            esr_damage = esr_damage + clocks[..., 2]
        return Health(1.0 - self.end_loss * self._shape(damage), 1.0 + self.end_esr_rise * self._shape(esr_damage))

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Capacitance loss shared in proportion to the damage; what acts on ESR alone has none of it."""
        shared = np.zeros_like(clocks)
        of_capacitance = clocks[..., : len(_MECHANISMS)]
        loss = self.end_loss * self._shape(of_capacitance[..., 0] + of_capacitance[..., 1])
        shared[..., : len(_MECHANISMS)] = share_loss(loss, of_capacitance)
        return shared

    def without_limits(self) -> AgeingLaw:
        """Nothing is held."""
        return self

    def share_in_range(self, stress: Stress) -> float:
        """Share of time or throughput inside the tests."""
        return share_inside(stress, self.validity)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """Say for what share of the time voltage or temperature lies outside the range of the ratings."""
        spread = "published slopes disagree by up to 20 times there, so compare the parameter sets."
        over = "the cell is above its rated voltage there, which its maker may not allow at all."
        return outside_notices(
            replace(stress, voltage_V=self._worst_V(stress.voltage_V)),
            self.validity,
            {
                "voltage_below_range": spread,
                "voltage_above_range": over,
                "temperature_below_range": spread,
                "temperature_above_range": spread,
            },
        )


@dataclass(frozen=True, slots=True)
class DoublingUltracapacitorLaw(UltracapacitorLaw):
    """Rate doubles every ``temperature_doubling_K``."""

    temperature_doubling_K: Annotated[float, Unit("K", positive=True)]

    def temperature_exponent(self, T: FloatArray) -> FloatArray:
        """Return ln 2 (T - T_ref) / theta_T."""
        return doubling_exponent(T, reference=self.reference_temperature_K, doubling=self.temperature_doubling_K)


@dataclass(frozen=True, slots=True)
class ArrheniusUltracapacitorLaw(UltracapacitorLaw):
    """Rate follows exp(-Ea / (k_B T))."""

    activation_energy_eV: Annotated[float, Unit("eV", positive=True)]

    def temperature_exponent(self, T: FloatArray) -> FloatArray:
        """Return -Ea/k_B (1/T - 1/T_ref)."""
        return arrhenius_exponent(T, reference=self.reference_temperature_K, activation_eV=self.activation_energy_eV)
