"""An ultracapacitor bank that follows a power setpoint within its voltage window and current limit.

The bank is followed in energy, where a power setpoint is a plain subtraction and the voltage window a pair of constant
bounds; only the loss in its resistance and the current limit depend on the voltage, and a few rounds settle them.
Within an interval the current is constant, so stored energy, terminal energy and loss close exactly.
"""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import ConvergenceError
from lifetime.stress.current import current_for_power
from lifetime.stress.scan import affine_scan, clipped_affine_scan, clipped_sum
from lifetime.stress.settling import is_settled

_SETTLED = 1e-10
"""Largest error of energy, relative to the full bank, at which the path counts as settled."""
_MOST_ROUNDS = 200
_FULL_STEPS = 40
"""Rounds after which only half of each change is taken."""


@dataclass(frozen=True, slots=True)
class VoltageSetpoint:
    """A voltage to which the battery slowly brings the ultracapacitor bank.

    Args:
        voltage_V: The setpoint [V], within the bank's window; one for all, or one an interval.
        time_constant_s: How slowly [s], > 0: the energy's distance from the setpoint decays with it.

    Source:
        ``P_batt += K (E_ref - E_bank)`` with ``K = 1 / time constant``; common form of bank voltage regulation.
    """

    voltage_V: float | FloatArray
    time_constant_s: float


@dataclass(frozen=True, slots=True)
class Bank:
    """An ultracapacitor bank seen from its terminals.

    Args:
        capacitance_F: Of the whole bank [F], > 0.
        resistance_ohm: Of the whole bank [Ω], >= 0.
        minimum_voltage_V: Lower end of the window [V], > 0.
        maximum_voltage_V: Upper end of the window [V].
        maximum_current_A: Limit of |current| [A], > 0.
    """

    capacitance_F: float
    resistance_ohm: float
    minimum_voltage_V: float
    maximum_voltage_V: float
    maximum_current_A: float

    def energy_J(self, voltage_V: float) -> float:
        """Stored energy at a capacitor voltage [J].

        Args:
            voltage_V: Capacitor voltage [V], >= 0.
        """
        return 0.5 * self.capacitance_F * voltage_V**2

    def worn(self, capacitance_fraction: float, esr_ratio: float) -> "Bank":
        """The same bank at another health.

        Args:
            capacitance_fraction: Capacitance over initial [0..1].
            esr_ratio: ESR over initial [1], >= 1.
        """
        return Bank(
            self.capacitance_F * capacitance_fraction,
            self.resistance_ohm * esr_ratio,
            self.minimum_voltage_V,
            self.maximum_voltage_V,
            self.maximum_current_A,
        )


@dataclass(frozen=True, slots=True)
class BankPath:
    """What the bank did.

    Args:
        current_A: Constant current of each interval [A], shape (n,), positive when discharging.
        power_W: Mean terminal power of each interval [W], shape (n,).
        voltage_V: Capacitor voltage at the intervals' ends, the start first [V], shape (n + 1,).
    """

    current_A: FloatArray
    power_W: FloatArray
    voltage_V: FloatArray


def follow(
    bank: Bank,
    length_s: FloatArray,
    setpoint_W: FloatArray,
    start_voltage_V: float,
    regulation: VoltageSetpoint | None = None,
) -> BankPath:
    """Let the bank follow a power setpoint as far as it can.

    Args:
        bank: The bank.
        length_s: Length of each interval [s], shape (n,), >= 0.
        setpoint_W: Terminal power aimed at [W], shape (n,), positive when discharging.
        start_voltage_V: Capacitor voltage before the first interval [V], within the window.
        regulation: Voltage to which the bank is slowly brought besides, or None.

    Raises:
        ConvergenceError: The path does not settle.
    """
    low, high = bank.energy_J(bank.minimum_voltage_V), bank.energy_J(bank.maximum_voltage_V)
    per_second = np.divide(1.0, length_s, out=np.zeros(length_s.size), where=length_s > 0.0)
    regulated = None if regulation is None else _regulation(bank, regulation, length_s)
    start = bank.energy_J(start_voltage_V)
    energy = np.full(length_s.size + 1, start)
    voltage = np.full(length_s.size + 1, start_voltage_V)
    change = 0.0
    for done in range(_MOST_ROUNDS):
        before = change
        middle = 0.5 * (voltage[:-1] + voltage[1:])
        inner = _inner_power(bank, setpoint_W, middle)
        # Where both setpoints together ask more than the current limit, the limit at the present voltage applies. What
        # regulation asks is read off the path itself, because a path that was not limited may long have left it.
        most = bank.maximum_current_A * middle
        asked = inner if regulated is None else inner + ((1.0 - regulated[0]) * energy[:-1] - regulated[1]) * per_second
        over = np.abs(asked) > most
        now = regulated
        if bool(over.any()):
            inner = np.where(over, np.sign(asked) * most, inner)
            if regulated is not None:
                now = np.where(over, 1.0, regulated[0]), np.where(over, 0.0, regulated[1])
        latest = _path(inner, length_s, now, start, (low, high))
        change = float(np.max(np.abs(latest - energy), initial=0.0))
        settled = is_settled(change, before, _SETTLED * high)
        # An interval that nearly empties the bank can make the rounds swing to and fro; half steps calm them.
        energy = latest if done < _FULL_STEPS or settled else 0.5 * (energy + latest)
        voltage = np.sqrt(energy * (2.0 / bank.capacitance_F))
        if settled:
            current = np.diff(voltage) * (-bank.capacitance_F * per_second)
            power = current * (0.5 * (voltage[:-1] + voltage[1:]) - bank.resistance_ohm * current)
            return BankPath(current_A=current, power_W=power, voltage_V=voltage)
    raise ConvergenceError(
        f"The ultracapacitor bank's path did not settle in {_MOST_ROUNDS} rounds. Its resistance of "
        f"{bank.resistance_ohm:.3g} Ω is probably far too high for the power asked of it."
    )


def _inner_power(bank: Bank, setpoint_W: FloatArray, voltage_V: FloatArray) -> FloatArray:
    """Power drawn from the store so that the setpoint arrives at the terminals, at most that of the matched load."""
    current, _ = current_for_power(setpoint_W, voltage_V, bank.resistance_ohm)
    return current * voltage_V


def _regulation(bank: Bank, setpoint: VoltageSetpoint, length_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fraction of the energy kept over each interval, and what regulation adds [J]."""
    kept = np.exp(-length_s / setpoint.time_constant_s)
    voltage = np.asarray(setpoint.voltage_V, dtype=np.float64)
    return kept, (1.0 - kept) * (0.5 * bank.capacitance_F * voltage**2)


def _path(
    inner_W: FloatArray,
    length_s: FloatArray,
    regulated: tuple[FloatArray, FloatArray] | None,
    start_J: float,
    window_J: tuple[float, float],
) -> FloatArray:
    """Energy at the intervals' ends, the start first; the window is only paid for where it is hit."""
    step = inner_W * -length_s
    path = np.empty(step.size + 1)
    path[0] = start_J
    if regulated is None:
        np.cumsum(step, out=path[1:])
        path[1:] += start_J
    else:
        step += regulated[1]
        path[1:] = affine_scan(regulated[0], step, start_J)
    low, high = window_J
    if float(path.min()) < low or float(path.max()) > high:
        path[1:] = (
            clipped_sum(step, start_J, low, high)
            if regulated is None
            else clipped_affine_scan(regulated[0], step, start_J, low, high)
        )
    return path
