"""The least rms battery power with the bank's power limit and losses: a convex programme."""

import importlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import ConvergenceError, MissingPackageError
from lifetime.split.best.taut_string import EnergyWindow


@dataclass(frozen=True, slots=True)
class BankLimits:
    """What a bank can do besides storing.

    Args:
        power_W: Most it delivers or takes at its terminals [W], > 0.
        loss_per_W: Loss per squared terminal power [1/W]: ``R / V**2`` at the voltage where the loss is least, >= 0.
    """

    power_W: float
    loss_per_W: float


@dataclass(frozen=True, slots=True)
class LeastRms:
    """The programme's answer.

    Args:
        battery_W: Mean battery power of each interval [W], shape (n,).
        rms_W: Its quadratic mean over time [W]; no strategy with this bank has less.
    """

    battery_W: FloatArray
    rms_W: float


def least_rms(length_s: FloatArray, demand_W: FloatArray, window: EnergyWindow, limits: BankLimits) -> LeastRms:
    """Least rms battery power for a bank with a power limit and a loss that grows with the square of its power.

    With a loss, stored energy may also be wasted, up to what the bank loses at its largest power: that keeps the
    programme convex. Where wasting pays, as with more braking than the bank can keep, the bound may lie below that of
    the lossless bank.

    Args:
        length_s: Length of each interval [s], shape (n,), > 0.
        demand_W: Mean demand of each interval [W], shape (n,).
        window: What the bank may store; the end is a lower bound.
        limits: What else it can do.

    Raises:
        ConvergenceError: The solver finds no answer.
        MissingPackageError: The modelling library is not installed.

    Source:
        S. Boyd, L. Vandenberghe, "Convex Optimization", Cambridge 2004, section 4.2; from memory.
    """
    try:
        cp: Any = importlib.import_module("cvxpy")  # an optional package, and slow
    except ImportError:
        raise MissingPackageError("The bound with losses", "cvxpy", "design") from None
    # Scaled to the demand and the window, so that the solver's tolerances mean the same for any pack.
    power_scale = float(np.max(np.abs(demand_W), initial=1.0))
    energy_scale = max(window.highest_J - window.lowest_J, power_scale * float(length_s.mean()))
    n = length_s.size
    bank, energy = cp.Variable(n), cp.Variable(n + 1)
    demand = demand_W / power_scale
    step = length_s * (power_scale / energy_scale)
    drawn = bank + (limits.loss_per_W * power_scale) * cp.square(bank)
    left = energy[:-1] - cp.multiply(step, drawn)
    even = energy[:-1] - cp.multiply(step, bank)
    if limits.loss_per_W > 0.0:
        # No more can be wasted than the bank loses at its largest power.
        most = limits.loss_per_W * limits.power_W**2 / power_scale
        balance = [energy[1:] <= left, energy[1:] >= even - most * step]
    else:
        balance = [energy[1:] == even]
    low, high, start, end = (
        value / energy_scale for value in (window.lowest_J, window.highest_J, window.start_J, window.end_J)
    )
    problem = cp.Problem(
        cp.Minimize(cp.sum(cp.multiply(length_s / length_s.sum(), cp.square(demand - bank)))),
        [
            *balance,
            energy >= low,
            energy <= high,
            energy[0] == start,
            energy[n] >= end if limits.loss_per_W > 0.0 else energy[n] == end,
            cp.abs(bank) <= limits.power_W / power_scale,
        ],
    )
    try:
        problem.solve(solver=cp.CLARABEL)
    except cp.error.SolverError as error:
        raise ConvergenceError(f"The bound with losses was not found ({error}).") from None
    if bank.value is None or problem.status not in ("optimal", "optimal_inaccurate"):
        raise ConvergenceError(f"The bound with losses was not found (the solver says {problem.status}).")
    battery = demand_W - np.asarray(bank.value, dtype=np.float64) * power_scale
    return LeastRms(battery, float(np.sqrt(max(problem.value, 0.0))) * power_scale)
