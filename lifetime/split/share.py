"""One day's demand shared between battery and bank, pass after pass."""

from collections.abc import Hashable, Iterator
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.split.bank import Bank, BankPath, follow
from lifetime.split.losses import NO_LOSS, Loss
from lifetime.split.rule import PullingRule, SplitRule, SteppedRule
from lifetime.split.stepped import follow_stepped
from lifetime.split.vehicle import Vehicle, demand_of
from lifetime.stress.intervals import NO_CROSSINGS, Intervals, intervals

_SAME = 1e-9
"""Relative difference of bank voltage and rule memory below which a pass begins like the one before."""


@dataclass(frozen=True, slots=True)
class Demand:
    """One pass of a power demand, as held interval means.

    Args:
        length_s: Length of each interval [s], shape (n,).
        power_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
        speed_m_s: Mean speed of each interval [m/s], shape (n,), or None where the demand has none.
    """

    length_s: FloatArray
    power_W: FloatArray
    speed_m_s: FloatArray | None = None

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
    """

    length_s: FloatArray
    battery_W: FloatArray
    bank_W: FloatArray
    bank_A: FloatArray
    bank_V: FloatArray


@dataclass(frozen=True, slots=True)
class Losses:
    """What is lost between each source and the machine.

    Args:
        battery: Of the battery's converter or inverter.
        bank: Of the bank's.
    """

    battery: Loss = NO_LOSS
    bank: Loss = NO_LOSS


def read_demand(history: History, vehicle: Vehicle | None = None) -> Demand:
    """One pass of a power or speed history as interval means, whole in memory.

    Args:
        history: Driven by power, or by speed.
        vehicle: Turns a speed into a power; needed for a history without power.

    Raises:
        AssessmentError: The history has only a speed, and no vehicle is given.
    """
    speed = None
    if history.has_speed:
        blocks = list(history.blocks())
        time = np.concatenate([block.time_s for block in blocks])
        ends = np.concatenate([block.speed_m_s for block in blocks if block.speed_m_s is not None])
        if history.driven_by == "speed":
            if vehicle is None:
                raise AssessmentError(
                    f"{history.label}: a demand by speed needs the section [vehicle] to become a power."
                )
            length = np.diff(time)
            return Demand(length, demand_of(vehicle, length, ends), 0.5 * (ends[:-1] + ends[1:]))
        speed = (time, ends)
    runs = list(intervals(history))
    length = np.concatenate([run.length_s for run in runs])
    power = np.concatenate([run.mean for run in runs])
    if speed is None:
        return Demand(length, power)
    middle = speed[0][0] + np.cumsum(length) - 0.5 * length
    return Demand(length, power, np.interp(middle, *speed))


def share_day(
    demand: Demand,
    rule: SplitRule | SteppedRule,
    bank: Bank | None,
    start_voltage_V: float,
    repeats: int,
    losses: Losses = Losses(),
) -> list[SharedPass]:
    """Share a day's demand; the bank and the rule carry their state from pass to pass.

    Args:
        demand: One pass.
        rule: The split rule.
        bank: The bank, or None for a rule that uses none.
        start_voltage_V: Capacitor voltage when the day begins [V].
        repeats: Passes a day, >= 1.
        losses: Between the sources and the machine.

    Returns:
        One entry per pass. As soon as a pass begins like the one before, the rest of the day repeats it.
    """
    shared: list[SharedPass] = []
    voltage = start_voltage_V
    memory: Hashable = rule.start() if isinstance(rule, SteppedRule) else 0.0
    scale = float(np.max(np.abs(demand.power_W), initial=0.0))
    while len(shared) < repeats:
        begun = (voltage, memory)
        latest, voltage, memory = _one_pass(demand, rule, bank, begun, losses)
        shared.append(latest)
        if abs(voltage - begun[0]) <= _SAME * begun[0] and _is_same(memory, begun[1], scale):
            shared.extend([latest] * (repeats - len(shared)))
    return shared


def _is_same(memory: Hashable, before: Hashable, scale: float) -> bool:
    if isinstance(memory, float) and isinstance(before, float):
        return abs(memory - before) <= _SAME * scale
    return memory == before


def battery_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The battery's part as intervals of power [W]."""
    return _runs(shared, [one.battery_W for one in shared])


def bank_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The bank's part as intervals of current [A]."""
    return _runs(shared, [one.bank_A for one in shared])


def _one_pass(
    demand: Demand,
    rule: SplitRule | SteppedRule,
    bank: Bank | None,
    begun: tuple[float, Hashable],
    losses: Losses,
) -> tuple[SharedPass, float, Hashable]:
    voltage_V, memory = begun
    n = demand.length_s.size
    if bank is None:
        idle = np.zeros(n)
        battery = losses.battery.at_source(demand.power_W)
        return SharedPass(demand.length_s, battery, idle, idle, np.full(n + 1, voltage_V)), voltage_V, memory
    path, after = _bank_path(demand, rule, bank, begun, losses)
    left = demand.power_W - losses.bank.at_machine(path.power_W)
    shared = SharedPass(
        length_s=demand.length_s,
        battery_W=losses.battery.at_source(left),
        bank_W=path.power_W,
        bank_A=path.current_A,
        bank_V=path.voltage_V,
    )
    return shared, float(path.voltage_V[-1]), after


def _bank_path(
    demand: Demand, rule: SplitRule | SteppedRule, bank: Bank, begun: tuple[float, Hashable], losses: Losses
) -> tuple[BankPath, Hashable]:
    """What the bank does, given what the rule wishes on the machine's side."""
    voltage_V, memory = begun
    if isinstance(rule, SteppedRule):
        at_terminals = _AtTerminals(rule, losses.bank)
        return follow_stepped(bank, demand.length_s, demand.power_W, demand.speed_m_s, at_terminals, begun)
    if isinstance(rule, PullingRule):
        if demand.speed_m_s is None:
            raise AssessmentError("This split rule needs the vehicle's speed; name a speed column in the demand.")
        bank = rule.pulled(bank, demand.speed_m_s)
    wish, after = rule.bank_wish(demand.length_s, demand.power_W, memory if isinstance(memory, float) else 0.0)
    return follow(bank, demand.length_s, losses.bank.at_source(wish), voltage_V), after


@dataclass(frozen=True, slots=True)
class _AtTerminals:
    """A stepped rule whose wishes are carried through the bank's converter to its terminals."""

    rule: SteppedRule
    loss: Loss

    def start(self) -> Hashable:
        return self.rule.start()

    def step(
        self, length_s: float, demand_W: float, speed_m_s: float, bank_voltage_V: float, state: Hashable
    ) -> tuple[float, Hashable]:
        wish, after = self.rule.step(length_s, demand_W, speed_m_s, bank_voltage_V, state)
        return (wish if self.loss.is_none else float(self.loss.at_source(np.array([wish]))[0])), after


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
