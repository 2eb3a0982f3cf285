"""Magnitudes that no pack has: a unit that is off by a thousand, a percentage taken for a fraction."""

from dataclasses import dataclass
from typing import Final

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
        power_share: Mean |power| over mean |voltage times current|.
        capacity_As: Capacity by charge and state of charge [As].
        median_step_s: Median time step [s].
        move_share: Mean |step| of the current over its range.
    """

    current_A: float | None
    voltage_V: float | None
    power_W: float | None
    power_share: float | None
    capacity_As: float | None
    median_step_s: float | None
    move_share: float | None


@dataclass(frozen=True, slots=True)
class ImplausibleUnit:
    """A magnitude that makes a unit doubtful.

    Args:
        quantity: Of which column.
        message: What is odd.
        number: The number.
    """

    quantity: str
    message: str
    number: float


def implausible_units(seen: Magnitudes) -> list[ImplausibleUnit]:
    """What makes a unit doubtful.

    Args:
        seen: What the file shows.
    """
    return [*_peaks(seen), *_ratios(seen)]


def _peaks(seen: Magnitudes) -> list[ImplausibleUnit]:
    found = []
    amps, volts, watts = seen.current_A, seen.voltage_V, seen.power_W
    if volts is not None and volts > HIGHEST_VOLTAGE_V:
        found.append(ImplausibleUnit("voltage", f"{volts:g} V is more than any pack of a vehicle has.", volts))
    if volts is not None and 0.0 < volts < LOWEST_VOLTAGE_V:
        found.append(ImplausibleUnit("voltage", f"the voltage stays below {volts:g} V, less than any cell has.", volts))
    if amps is not None and amps > HIGHEST_CURRENT_A:
        found.append(ImplausibleUnit("current", f"{amps:g} A is more than any pack of a vehicle delivers.", amps))
    if watts is not None and watts > HIGHEST_POWER_W:
        found.append(ImplausibleUnit("power", f"{watts:g} W is more than any pack of a vehicle delivers.", watts))
    of_pack = volts is not None and PACK_FROM_V < volts <= HIGHEST_VOLTAGE_V
    if amps is not None and of_pack and 0.0 < amps < LEAST_CURRENT_A:
        found.append(ImplausibleUnit("current", f"the pack of {volts:g} V never carries more than {amps:g} A.", amps))
    return found


def _ratios(seen: Magnitudes) -> list[ImplausibleUnit]:
    found = []
    amps, share = seen.current_A, seen.power_share
    if share is not None and not 0.5 < share < 2.0:
        text = f"the power is {share:.3g} times voltage times current: one unit is wrong, or they are not one source's."
        found.append(ImplausibleUnit("power", text, share))
    if seen.capacity_As is not None and amps is not None:
        rate = amps * 3600.0 / seen.capacity_As
        if not LOWEST_C_RATE < rate < HIGHEST_C_RATE:
            text = (
                f"charge and state of charge together make the largest current {rate:.3g} times the capacity per hour."
            )
            found.append(ImplausibleUnit("time", text, rate))
    step, move = seen.median_step_s, seen.move_share
    if step is not None and step >= COARSE_STEP_S and move is not None and move > COARSE_MOVE:
        text = f"rows stand {step:g} s apart, and the current moves by {100 * move:.0f} % of its range in each."
        found.append(ImplausibleUnit("time", text, step))
    return found
