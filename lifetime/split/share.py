"""A demand as interval means, and its passes shared between battery and ultracapacitor bank."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.split.windings import TwoWindings
from lifetime.stress.intervals import NO_CROSSINGS, Intervals


@dataclass(frozen=True, slots=True)
class MeasuredTemperature:
    """The battery's temperature as it was measured beside a demand.

    Args:
        mean_K: Mean of each interval [K], shape (n,).
        ambient_K: Air temperature during the measurement [K], or None where the study does not say it.
    """

    mean_K: FloatArray
    ambient_K: float | None = None


@dataclass(frozen=True, slots=True)
class Demand:
    """One pass of a power demand, as constant interval means.

    Args:
        length_s: Length of each interval [s], shape (n,).
        power_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
        speed_m_s: Mean speed of each interval [m/s], shape (n,), >= 0 in either direction of travel, or None where
            the demand has none.
        temperature: Measured temperature of the battery, or None where the demand has none.
        relief_W: Power at the machine that the bank is asked for besides the rule, because the battery does not serve
            it [W], shape (n,); None for none.
        windings: Copper loss of the machine, to be paid besides the power; None where the study states none.
    """

    length_s: FloatArray
    power_W: FloatArray
    speed_m_s: FloatArray | None = None
    temperature: MeasuredTemperature | None = None
    relief_W: FloatArray | None = None
    windings: TwoWindings | None = None

    @property
    def energy_J(self) -> float:
        """Net energy of one pass [J]."""
        return float(np.sum(self.power_W * self.length_s))


@dataclass(frozen=True, slots=True)
class SharedPass:
    """One pass of the demand, shared.

    Args:
        length_s: Length of each interval [s], shape (n,).
        battery_W: Mean battery power at its terminals [W], shape (n,).
        bank_W: Mean bank power at its terminals [W], shape (n,); without losses the two sum to the demand.
        bank_A: Bank current [A], shape (n,).
        bank_V: Capacitor voltage at the intervals' ends, the start first [V], shape (n + 1,).
        missed_W: Mean power asked of the battery and not served [W], shape (n,): above 0 traction, below 0
            regeneration that goes to the friction brakes; None where all of it is served.
        lost_W: Mean power that converters, inverters and windings lose between terminals and machine for what is asked
            [W], shape (n,), >= 0; None where they lose nothing.
    """

    length_s: FloatArray
    battery_W: FloatArray
    bank_W: FloatArray
    bank_A: FloatArray
    bank_V: FloatArray
    missed_W: FloatArray | None = None
    lost_W: FloatArray | None = None

    @property
    def lost_J(self) -> float:
        """Energy that converters, inverters and windings lose over the pass [J]."""
        return 0.0 if self.lost_W is None else float(np.sum(self.lost_W * self.length_s))


def battery_runs(shared: list[SharedPass], temperature: MeasuredTemperature | None = None) -> Iterator[Intervals]:
    """The battery's part as intervals of power [W].

    Args:
        shared: The day's passes.
        temperature: What was measured over one pass of the demand; an entry of ``shared`` may hold several of them.
    """
    return _runs(shared, [one.battery_W for one in shared], None if temperature is None else temperature.mean_K)


def bank_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The bank's part as intervals of current [A]."""
    return _runs(shared, [one.bank_A for one in shared])


def _runs(
    shared: list[SharedPass], values: list[FloatArray], temperature_K: FloatArray | None = None
) -> Iterator[Intervals]:
    first = 0
    for one, value in zip(shared, values, strict=True):
        n = value.size
        yield Intervals(
            length_s=one.length_s,
            left=value,
            right=value,
            temperature_K=None if temperature_K is None else np.resize(temperature_K, n),
            voltage_V=None,
            first_sample=first,
            crossings=NO_CROSSINGS,
        )
        first += n
