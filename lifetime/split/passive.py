"""Battery and bank directly in parallel, without any converter: the circuit decides the split."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.split.bank import Bank

_ROUNDS = 4
_TABLE = 201


@dataclass(frozen=True, slots=True)
class PassiveBattery:
    """The battery as the circuit sees it.

    Args:
        open_circuit_V: Open-circuit voltage of the pack over its state of charge [V].
        resistance_ohm: Of the pack [Ω], > 0.
        capacity_As: Of the pack [As], > 0.
        start_soc: State of charge when the day begins [0..1].
    """

    open_circuit_V: Callable[[FloatArray], FloatArray]
    resistance_ohm: float
    capacity_As: float
    start_soc: float


@dataclass(frozen=True, slots=True)
class PassivePath:
    """What the two did.

    Args:
        battery_W: Mean battery terminal power [W], shape (n,).
        bank_W: Mean bank terminal power [W], shape (n,).
        bank_A: Mean bank current [A], shape (n,).
        bank_V: Capacitor voltage at the intervals' ends, the start first [V], shape (n + 1,).
        end_soc: Battery's state of charge at the end.
    """

    battery_W: FloatArray
    bank_W: FloatArray
    bank_A: FloatArray
    bank_V: FloatArray
    end_soc: float


def share_passively(
    length_s: FloatArray, demand_W: FloatArray, battery: PassiveBattery, bank: Bank, start_V: float, soc: float
) -> PassivePath:
    """Solve the parallel circuit through a demand.

    Over an interval the total current is held; the capacitor then goes exponentially to where the battery would hold
    it, with the time constant C (R_battery + ESR). The current is that which delivers the demand at the mean voltage.

    Args:
        length_s: Length of each interval [s], shape (n,).
        demand_W: Mean demand of each interval [W], shape (n,).
        battery: The battery.
        bank: The bank; its window does not switch anything here.
        start_V: Capacitor voltage before the first interval [V].
        soc: Battery's state of charge before it [0..1].

    Raises:
        AssessmentError: The two cannot deliver the demand.

    Source:
        Kirchhoff's laws for two sources in parallel; R. A. Dougal, S. Liu, R. E. White, "Power and life extension of
        battery-ultracapacitor hybrids", IEEE Trans. Components Packag. Technol. 25 (2002) 120-131; from memory.
    """
    grid = np.linspace(0.0, 1.0, _TABLE)
    curve = battery.open_circuit_V(grid).tolist()
    r_b, r_c, farads = battery.resistance_ohm, max(bank.resistance_ohm, 1e-9), bank.capacitance_F
    conductance, tau = 1.0 / r_b + 1.0 / r_c, farads * (r_b + r_c)
    n = length_s.size
    rows = np.zeros((3, n))
    voltages = np.empty(n + 1)
    voltages[0] = voltage = start_V
    kept = np.exp(-length_s / tau).tolist()
    for at, (length, demand) in enumerate(zip(length_s.tolist(), demand_W.tolist(), strict=True)):
        if length > 0.0:
            source = _at(curve, soc)
            inside = (source / r_b + voltage / r_c) ** 2 - 4.0 * conductance * demand
            if inside < 0.0:
                raise AssessmentError(
                    f"Battery and bank in parallel cannot deliver {demand:g} W at {voltage:.1f} V. Lower the demand, "
                    "or use more cells."
                )
            terminal = ((source / r_b + voltage / r_c) + inside**0.5) / (2.0 * conductance)
            for _ in range(_ROUNDS):
                total = demand / terminal
                # Where no more current flows in the capacitor the battery carries all: V = source - total R_b.
                settled = source - total * r_b
                after = settled + (voltage - settled) * kept[at]
                bank_current = (voltage - after) * farads / length
                terminal = source - (total - bank_current) * r_b
            rows[:, at] = (total - bank_current) * terminal, bank_current * terminal, bank_current
            soc -= (total - bank_current) * length / battery.capacity_As
            voltage = after
        voltages[at + 1] = voltage
    return PassivePath(rows[0], rows[1], rows[2], voltages, soc)


def _at(curve: list[float], soc: float) -> float:
    """The open-circuit voltage at a state of charge, straight between the table's points."""
    place = min(max(soc, 0.0), 1.0) * (len(curve) - 1)
    left = min(int(place), len(curve) - 2)
    return curve[left] + (place - left) * (curve[left + 1] - curve[left])
