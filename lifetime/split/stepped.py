"""A rule that looks at the bank's voltage, and the bank, going on together step by step.

The bank is the one of ``split.bank``: constant current within an interval, so stored energy, terminal energy and loss
close. Here each step has a closed form, because the voltage it starts from is known.
"""

import math
from collections.abc import Hashable

import numpy as np

from lifetime.checks import FloatArray
from lifetime.split.bank import Bank, BankPath
from lifetime.split.rule import SteppedRule


def follow_stepped(
    bank: Bank,
    length_s: FloatArray,
    demand_W: FloatArray,
    speed_m_s: FloatArray | None,
    rule: SteppedRule,
    start: tuple[float, Hashable],
) -> tuple[BankPath, Hashable]:
    """Let a stepped rule and the bank go through a demand.

    Args:
        bank: The bank; a pull of its own is not served here, the rule has its voltage.
        length_s: Length of each interval [s], shape (n,), >= 0.
        demand_W: Mean demand of each interval as the bank's terminals see it [W], shape (n,).
        speed_m_s: Mean speed of each interval [m/s], or None.
        rule: The rule.
        start: Capacitor voltage before the first interval [V], and what the rule remembers.

    Returns:
        What the bank did, and what the rule remembers after.
    """
    n = length_s.size
    current, power, voltages = np.zeros(n), np.zeros(n), np.empty(n + 1)
    voltage, state = start
    voltages[0] = voltage
    speeds = [0.0] * n if speed_m_s is None else speed_m_s.tolist()
    for at, (length, demand, speed) in enumerate(zip(length_s.tolist(), demand_W.tolist(), speeds, strict=True)):
        wish, state = rule.step(length, demand, speed, voltage, state)
        if length > 0.0:
            amps = _current(bank, wish, voltage, length)
            after = voltage - amps * length / bank.capacitance_F
            power[at] = amps * (0.5 * (voltage + after) - bank.resistance_ohm * amps)
            current[at], voltage = amps, after
        voltages[at + 1] = voltage
    return BankPath(current_A=current, power_W=power, voltage_V=voltages), state


def _current(bank: Bank, wish_W: float, voltage_V: float, length_s: float) -> float:
    """Constant current that delivers the wish over the step, within current limit and voltage window [A]."""
    # The voltage sinks on the way: its mean is U - I t / 2C, as if the resistance were larger by t / 2C.
    resistance = bank.resistance_ohm + 0.5 * length_s / bank.capacitance_F
    inside = voltage_V * voltage_V - 4.0 * resistance * wish_W
    matched = 0.5 * voltage_V / resistance
    amps = matched if inside <= 0.0 else 2.0 * wish_W / (voltage_V + math.sqrt(inside))
    amps = min(max(amps, -bank.maximum_current_A), bank.maximum_current_A)
    per_volt = bank.capacitance_F / length_s
    most = max(voltage_V - bank.minimum_voltage_V, 0.0) * per_volt
    least = -max(bank.maximum_voltage_V - voltage_V, 0.0) * per_volt
    return min(max(amps, least), most)
