"""A day of several passes, shared one after another by a split rule."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.split.bank import Bank
from lifetime.split.rule import BatteryCircuit, Rule, SplitState
from lifetime.split.share import Demand, SharedPass

_SAME = 1e-9
"""Relative difference of bank voltage below which a pass begins like the one before."""


def share_day(
    demand: Demand,
    rule: Rule,
    bank: Bank | None,
    start_voltage_V: float,
    repeats: int,
    battery: BatteryCircuit | None = None,
    relief_W: Sequence[FloatArray] | None = None,
) -> list[SharedPass]:
    """Share a day's demand; the bank and the rule carry their state from pass to pass.

    Args:
        demand: One pass.
        rule: The split rule.
        bank: The ultracapacitor bank, or None for a rule without one.
        start_voltage_V: Capacitor voltage when the day begins [V].
        repeats: Passes a day, >= 1.
        battery: The battery's circuit, for a rule that looks at it.
        relief_W: Power asked of the bank besides the rule [W], one array a pass; None for none.

    Returns:
        One entry per pass. As soon as a pass begins like the one before, the rest of the day repeats it.

    Raises:
        AssessmentError: The rule cannot share the demand, or needs a bank that is not given, or the other way round.
    """
    if rule.has_ultracapacitor != (bank is not None):
        raise AssessmentError(
            f"The split rule {rule.key()} is {'with' if rule.has_ultracapacitor else 'without'} an ultracapacitor "
            f"bank, but {'none' if bank is None else 'one'} is given."
        )
    shared: list[SharedPass] = []
    state = SplitState(start_voltage_V, rule.start(battery))
    scale = float(np.max(np.abs(demand.power_W), initial=0.0))
    while len(shared) < repeats:
        begun = state
        if relief_W is not None:
            demand = replace(demand, relief_W=relief_W[len(shared)])
        latest, state = rule.share_pass(demand, bank, begun, battery)
        shared.append(latest)
        same_voltage = abs(state.voltage_V - begun.voltage_V) <= _SAME * begun.voltage_V
        if relief_W is None and same_voltage and rule.is_same(state.memory, begun.memory, scale):
            shared.extend([latest] * (repeats - len(shared)))
    return shared
