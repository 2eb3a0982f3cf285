"""Plausibility check of the units: magnitudes that no pack has, as where a unit is wrong by a factor of 1000."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from lifetime.constants import SECONDS_PER_HOUR
from lifetime.text import significant

HIGHEST_VOLTAGE_V: Final = 1500.0
"""Upper end of low voltage for direct current (IEC 60038); packs of road vehicles stay below."""
LOWEST_VOLTAGE_V: Final = 0.9
HIGHEST_CURRENT_A: Final = 10_000.0
HIGHEST_POWER_W: Final = 5e6
LEAST_CURRENT_A: Final = 1.0
PACK_FROM_V: Final = 24.0
"""Limits of what a pack of a vehicle can show; common practice, no source."""
HIGHEST_C_RATE: Final = 200.0
LOWEST_C_RATE: Final = 0.01
COARSE_STEP_S: Final = 60.0
COARSE_MOVE: Final = 0.1


@dataclass(frozen=True, slots=True)
class Magnitudes:
    """What a file shows, in SI; None where it does not.

    Args:
        current_A: Largest magnitude of the current [A].
        voltage_V: Largest magnitude of the voltage [V].
        power_W: Largest magnitude of the power [W].
        power_ratio: Mean |power| over mean |voltage times current|.
        capacity_As: Capacity by charge and state of charge [As].
        median_step_s: Median time step [s].
        step_fraction: Mean |step| of the current over its range [0..1].
    """

    current_A: float | None
    voltage_V: float | None
    power_W: float | None
    power_ratio: float | None
    capacity_As: float | None
    median_step_s: float | None
    step_fraction: float | None


@dataclass(frozen=True, slots=True)
class ImplausibleUnit:
    """A magnitude that makes a unit implausible.

    Args:
        quantity: Whose unit.
        message: What is implausible, with the number and its unit.
        number: The number.
    """

    quantity: str
    message: str
    number: float


def implausible_units(seen: Magnitudes) -> list[ImplausibleUnit]:
    """What makes a unit implausible.

    Args:
        seen: What the file shows.
    """
    return [*_peaks(seen), *_ratios(seen)]


def _peaks(seen: Magnitudes) -> Iterator[ImplausibleUnit]:
    amps, volts, watts = seen.current_A, seen.voltage_V, seen.power_W
    if volts is not None and volts > HIGHEST_VOLTAGE_V:
        yield ImplausibleUnit("voltage", f"{significant(volts)} V is more than any vehicle's pack has.", volts)
    if volts is not None and 0.0 < volts < LOWEST_VOLTAGE_V:
        message = f"the highest voltage is {significant(volts)} V, less than any cell has."
        yield ImplausibleUnit("voltage", message, volts)
    if amps is not None and amps > HIGHEST_CURRENT_A:
        yield ImplausibleUnit("current", f"{significant(amps)} A is more than any vehicle's pack delivers.", amps)
    if watts is not None and watts > HIGHEST_POWER_W:
        yield ImplausibleUnit("power", f"{significant(watts)} W is more than any vehicle's pack delivers.", watts)
    if amps is None or volts is None:
        return
    if PACK_FROM_V < volts <= HIGHEST_VOLTAGE_V and 0.0 < amps < LEAST_CURRENT_A:
        message = f"the highest current is {significant(amps)} A, too low for a pack of {significant(volts)} V."
        yield ImplausibleUnit("current", message, amps)


def _ratios(seen: Magnitudes) -> Iterator[ImplausibleUnit]:
    ratio = seen.power_ratio
    if ratio is not None and not 0.5 < ratio < 2.0:
        message = (
            f"the power is {significant(ratio)} times voltage times current: a unit is wrong, or the columns belong "
            "to different sources."
        )
        yield ImplausibleUnit("power", message, ratio)
    if seen.capacity_As is not None and seen.current_A is not None:
        c_rate = seen.current_A * SECONDS_PER_HOUR / seen.capacity_As
        if not LOWEST_C_RATE < c_rate < HIGHEST_C_RATE:
            message = (
                "counted charge and state of charge give a capacity at which the highest current is "
                f"{significant(c_rate)} C."
            )
            yield ImplausibleUnit("time", message, c_rate)
    step_s, change = seen.median_step_s, seen.step_fraction
    if step_s is not None and step_s >= COARSE_STEP_S and change is not None and change > COARSE_MOVE:
        message = (
            f"the time step is {significant(step_s)} s, and the current changes by {100 * change:.0f} % of its range "
            "per step."
        )
        yield ImplausibleUnit("time", message, step_s)
