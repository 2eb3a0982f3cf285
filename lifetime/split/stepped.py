"""A rule that looks at the bank's voltage, and the bank, step by step together.

The bank is the one of ``split.bank``: constant current within an interval, so stored energy, terminal energy and loss
close. Here each step has a closed form, because the voltage it starts from is known.
"""

import math
from collections.abc import Hashable

import numpy as np

from lifetime.split.bank import Bank, BankPath
from lifetime.split.rule import Controller, Step
from lifetime.split.share import Demand


def follow_steps(
    bank: Bank,
    demand: Demand,
    controller: Controller,
    start_voltage_V: float,
    state: Hashable,
) -> tuple[BankPath, Hashable]:
    """Let a rule and the bank go through a demand together.

    Args:
        bank: The bank.
        demand: One pass of the demand.
        controller: Gives the setpoint at the bank's terminals.
        start_voltage_V: Capacitor voltage before the first interval [V].
        state: What the rule remembers from before.

    Returns:
        What the bank did, and what the rule remembers after.
    """
    n = demand.length_s.size
    current, power, voltages = np.zeros(n), np.zeros(n), np.empty(n + 1)
    voltages[0] = voltage = start_voltage_V
    speeds = [0.0] * n if demand.speed_m_s is None else demand.speed_m_s.tolist()
    seen = zip(demand.length_s.tolist(), demand.power_W.tolist(), speeds, strict=True)
    for at, (length, demand_W, speed) in enumerate(seen):
        setpoint, state = controller(Step(length, demand_W, speed, voltage, state))
        if length > 0.0:
            amps = _current(bank, setpoint, voltage, length)
            after = voltage - amps * length / bank.capacitance_F
            power[at] = amps * (0.5 * (voltage + after) - bank.resistance_ohm * amps)
            current[at], voltage = amps, after
        voltages[at + 1] = voltage
    return BankPath(current_A=current, power_W=power, voltage_V=voltages), state


def _current(bank: Bank, setpoint_W: float, voltage_V: float, length_s: float) -> float:
    """Constant current that delivers the setpoint over the step, within current limit and voltage window [A]."""
    # The voltage sinks on the way: its mean is U - I t / 2C, as if the resistance were larger by t / 2C.
    resistance = bank.resistance_ohm + 0.5 * length_s / bank.capacitance_F
    inside = voltage_V * voltage_V - 4.0 * resistance * setpoint_W
    matched = 0.5 * voltage_V / resistance
    amps = matched if inside <= 0.0 else 2.0 * setpoint_W / (voltage_V + math.sqrt(inside))
    amps = min(max(amps, -bank.maximum_current_A), bank.maximum_current_A)
    per_volt = bank.capacitance_F / length_s
    most = max(voltage_V - bank.minimum_voltage_V, 0.0) * per_volt
    least = -max(bank.maximum_voltage_V - voltage_V, 0.0) * per_volt
    return min(max(amps, least), most)
