"""One day's demand shared between battery and bank, pass after pass."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.model import History
from lifetime.split.bank import Bank, follow
from lifetime.split.rule import SplitRule
from lifetime.stress.intervals import NO_CROSSINGS, Intervals, intervals

_SAME = 1e-9
"""Relative difference of bank voltage and rule memory below which a pass begins like the one before."""


@dataclass(frozen=True, slots=True)
class Demand:
    """One pass of a power demand, as held interval means.

    Args:
        length_s: Length of each interval [s], shape (n,).
        power_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
    """

    length_s: FloatArray
    power_W: FloatArray

    @property
    def energy_J(self) -> float:
        """Net energy of one pass [J]."""
        return float(np.sum(self.power_W * self.length_s))


@dataclass(frozen=True, slots=True)
class SharedPass:
    """One pass of the demand, shared.

    Args:
        length_s: Length of each interval [s], shape (n,).
        battery_W: Mean battery power [W], shape (n,).
        bank_W: Mean bank terminal power [W], shape (n,); ``battery_W + bank_W`` is the demand.
        bank_A: Bank current [A], shape (n,).
        bank_V: Capacitor voltage at the intervals' ends, the start first [V], shape (n + 1,).
    """

    length_s: FloatArray
    battery_W: FloatArray
    bank_W: FloatArray
    bank_A: FloatArray
    bank_V: FloatArray


def read_demand(history: History) -> Demand:
    """One pass of a power history as interval means, whole in memory."""
    runs = list(intervals(history))
    return Demand(
        length_s=np.concatenate([run.length_s for run in runs]),
        power_W=np.concatenate([run.mean for run in runs]),
    )


def share_day(
    demand: Demand, rule: SplitRule, bank: Bank | None, start_voltage_V: float, repeats: int
) -> list[SharedPass]:
    """Share a day's demand; the bank and the rule carry their state from pass to pass.

    Args:
        demand: One pass.
        rule: The split rule.
        bank: The bank, or None for a rule that uses none.
        start_voltage_V: Capacitor voltage when the day begins [V].
        repeats: Passes a day, >= 1.

    Returns:
        One entry per pass. As soon as a pass begins like the one before, the rest of the day repeats it.
    """
    shared: list[SharedPass] = []
    voltage, memory = start_voltage_V, 0.0
    scale = float(np.max(np.abs(demand.power_W), initial=0.0))
    while len(shared) < repeats:
        begun = (voltage, memory)
        latest, voltage, memory = _one_pass(demand, rule, bank, voltage, memory)
        shared.append(latest)
        if abs(voltage - begun[0]) <= _SAME * begun[0] and abs(memory - begun[1]) <= _SAME * scale:
            shared.extend([latest] * (repeats - len(shared)))
    return shared


def battery_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The battery's part as intervals of power [W]."""
    return _runs(shared, [one.battery_W for one in shared])


def bank_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The bank's part as intervals of current [A]."""
    return _runs(shared, [one.bank_A for one in shared])


def _one_pass(
    demand: Demand, rule: SplitRule, bank: Bank | None, voltage_V: float, memory: float
) -> tuple[SharedPass, float, float]:
    wish, after = rule.bank_wish(demand.length_s, demand.power_W, memory)
    n = wish.size
    if bank is None:
        idle = np.zeros(n)
        return SharedPass(demand.length_s, demand.power_W, idle, idle, np.full(n + 1, voltage_V)), voltage_V, after
    path = follow(bank, demand.length_s, wish, voltage_V)
    shared = SharedPass(
        length_s=demand.length_s,
        battery_W=demand.power_W - path.power_W,
        bank_W=path.power_W,
        bank_A=path.current_A,
        bank_V=path.voltage_V,
    )
    return shared, float(path.voltage_V[-1]), after


def _runs(shared: list[SharedPass], values: list[FloatArray]) -> Iterator[Intervals]:
    first = 0
    for one, value in zip(shared, values, strict=True):
        n = value.size
        yield Intervals(
            length_s=one.length_s,
            left=value,
            right=value,
            temperature_K=None,
            voltage_V=None,
            first_sample=first,
            crossings=NO_CROSSINGS,
        )
        first += n
