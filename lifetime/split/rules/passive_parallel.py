"""Battery and ultracapacitor bank directly in parallel, without any converter: the circuit decides the split."""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.split.bank import Bank
from lifetime.split.converter_rule import InverterRule
from lifetime.split.rule import BatteryCircuit, SplitState
from lifetime.split.share import Demand, SharedPass

_ROUNDS = 4
_TABLE = 201
_OVERVOLTAGE = 0.02
"""Share above its highest voltage up to which the bank's ageing model judges it; beyond that it is damaged."""


class PassiveParallel(InverterRule, title="Passive parallel"):
    """The circuit of battery and bank in parallel decides."""

    summary: ClassVar[str] = (
        "Battery and ultracapacitor are directly in parallel without a converter; the circuit decides."
    )

    rule: Literal["passive_parallel"] = "passive_parallel"

    def start(self, battery: BatteryCircuit | None) -> Hashable:
        """The battery's state of charge."""
        return _given(battery).start_soc

    def is_same(self, memory: Hashable, before: Hashable, scale_W: float) -> bool:
        """Only at the very same state of charge, which every pass changes."""
        return memory == before

    def share_pass(
        self, demand: Demand, bank: Bank | None, begun: SplitState, battery: BatteryCircuit | None
    ) -> tuple[SharedPass, SplitState]:
        """Solve the circuit through the pass."""
        assert bank is not None  # noqa: S101 - a rule with an ultracapacitor is given one
        assert isinstance(begun.memory, float)  # noqa: S101 - as start and this function left it
        link_W = self.converters.where_met(demand).power_W
        path = share_passively(demand.length_s, link_W, _given(battery), bank, begun.voltage_V, begun.memory)
        lost_W = self.converters.lost_W(demand, path.battery_W + path.bank_W)
        shared = SharedPass(demand.length_s, path.battery_W, path.bank_W, path.bank_A, path.bank_V, lost_W=lost_W)
        return shared, SplitState(float(path.bank_V[-1]), path.end_soc)


def _given(battery: BatteryCircuit | None) -> BatteryCircuit:
    if battery is None:
        raise AssessmentError("Battery and ultracapacitor in parallel need the battery's circuit; none is given.")
    return battery


@dataclass(frozen=True, slots=True)
class PassivePath:
    """What the two did.

    Args:
        battery_W: Mean battery terminal power [W], shape (n,).
        bank_W: Mean bank terminal power [W], shape (n,).
        bank_A: Mean bank current [A], shape (n,).
        bank_V: Capacitor voltage at the intervals' ends, the start first [V], shape (n + 1,).
        end_soc: Battery's state of charge at the end [0..1].
    """

    battery_W: FloatArray
    bank_W: FloatArray
    bank_A: FloatArray
    bank_V: FloatArray
    end_soc: float


def share_passively(
    length_s: FloatArray, demand_W: FloatArray, battery: BatteryCircuit, bank: Bank, start_V: float, soc: float
) -> PassivePath:
    """Solve the parallel circuit through a demand.

    Over an interval the total current is constant; the capacitor then goes exponentially to where the battery would
    bring it, with the time constant C (R_battery + ESR). The current is what delivers the demand at the mean voltage.

    Args:
        length_s: Length of each interval [s], shape (n,).
        demand_W: Mean demand of each interval [W], shape (n,).
        battery: The battery.
        bank: The bank; its window does not switch anything here.
        start_V: Capacitor voltage before the first interval [V].
        soc: Battery's state of charge before it [0..1].

    Raises:
        AssessmentError: The two cannot deliver the demand, or the bank would stand far above its highest voltage.

    Source:
        Kirchhoff's laws for two sources in parallel; R. A. Dougal, S. Liu, R. E. White, "Power and life extension of
        battery-ultracapacitor hybrids", IEEE Trans. Components Packag. Technol. 25 (2002) 120-131; from memory.
    """
    grid = np.linspace(0.0, 1.0, _TABLE)
    curve = battery.open_circuit_V(grid).tolist()
    r_b, r_c, farads = max(battery.resistance_ohm, 1e-9), max(bank.resistance_ohm, 1e-9), bank.capacitance_F
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
                    f"Battery and ultracapacitor in parallel do not reach {demand:g} W at {voltage:.1f} V. Lower the "
                    "demand, or use more cells."
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
    highest = float(voltages.max())
    if highest > bank.maximum_voltage_V * (1.0 + _OVERVOLTAGE):
        raise AssessmentError(
            f"In parallel with the battery the ultracapacitor bank would stand at {highest:.4g} V, above its highest "
            f"voltage of {bank.maximum_voltage_V:.4g} V. Use more ultracapacitor cells in series, fewer battery cells "
            "in series, or a converter."
        )
    return PassivePath(rows[0], rows[1], rows[2], voltages, soc)


def _at(curve: list[float], soc: float) -> float:
    """The open-circuit voltage at a state of charge, linear between the table's points."""
    place = min(max(soc, 0.0), 1.0) * (len(curve) - 1)
    left = min(int(place), len(curve) - 2)
    return curve[left] + (place - left) * (curve[left + 1] - curve[left])
