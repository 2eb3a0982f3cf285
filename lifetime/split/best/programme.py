"""The least rms battery power with the bank's power limit and losses: a convex programme."""

import importlib
import warnings
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import ConvergenceError, MissingPackageError, NumberError
from lifetime.split.best.demand import checked_demand
from lifetime.split.best.taut_string import EnergyWindow

_GAP: Final = 1e-8
"""Gap between the solver's answer and the least there is, in mean squares relative to the largest demand."""
_WIDER_GAP: Final = 1e-6
"""The same where rounding keeps the solver from its first aim."""


@dataclass(frozen=True, slots=True)
class BankLimits:
    """What a bank can do besides storing.

    Args:
        power_W: Most it delivers or takes at its terminals [W], > 0: ``V I`` at the highest current and voltage.
        loss_per_W: Loss per squared terminal power [1/W], >= 0: ``R / V**2`` at the same voltage, where it is least, so
            that ``loss_per_W * power_W**2 = R I**2`` is the most it can lose. A charging bank's terminals reach ``R I``
            above its window.

    Raises:
        NumberError: A limit lies outside its range.
    """

    power_W: float
    loss_per_W: float

    def __post_init__(self) -> None:
        """Refuse limits that no bank has."""
        if not 0.0 < self.power_W < np.inf or not 0.0 <= self.loss_per_W < np.inf:
            raise NumberError(
                f"A bank's power limit must be above 0 and its loss factor at least 0, both finite; got "
                f"{self.power_W:g} W and {self.loss_per_W:g} 1/W."
            )


@dataclass(frozen=True, slots=True)
class LeastRms:
    """The programme's answer.

    Args:
        battery_W: Mean battery power of each interval [W], shape (n,); 0 in intervals that take no time.
        rms_W: Its quadratic mean over time, less the solver's gap [W]: no strategy with this bank has less.
        thrown_away_J: Stored energy lost beyond the bank's loss, or left over at the end [J], >= 0. Near 0 the bound
            can be reached; otherwise a real bank, which cannot throw energy away, stays above it.
    """

    battery_W: FloatArray
    rms_W: float
    thrown_away_J: float


def least_rms(length_s: FloatArray, demand_W: FloatArray, window: EnergyWindow, limits: BankLimits) -> LeastRms:
    """Least rms battery power for a bank with a power limit and a loss that grows with the square of its power.

    With a loss, stored energy may also be thrown away, up to what the bank loses at its largest power: that keeps the
    programme convex. Where it pays, as with more braking than the bank can keep, the bound is low, even below that of
    the lossless bank, and ``thrown_away_J`` says so.

    Args:
        length_s: Length of each interval [s], shape (n,), >= 0.
        demand_W: Mean demand of each interval [W], shape (n,).
        window: What the bank may store; with a loss the end is a lower bound.
        limits: What else it can do.

    Raises:
        ConvergenceError: The solver finds no answer, for one because the bank cannot reach its end.
        MissingPackageError: The modelling library is not installed.
        NumberError: A value is not finite, a length is negative, the shapes differ, or no time passes.

    Source:
        S. Boyd, L. Vandenberghe, "Convex Optimization", Cambridge 2004, section 4.2; from memory.
    """
    _, moves = checked_demand(length_s, demand_W)
    length, demand = length_s[moves], demand_W[moves]
    power_scale = float(np.max(np.abs(demand))) or 1.0
    bank, gap = _solve(length, demand, window, limits, power_scale)
    battery = np.zeros(length_s.size)
    battery[moves] = demand - bank
    stored = window.start_J - float(np.sum((bank + limits.loss_per_W * bank**2) * length))
    mean_square = float(np.sum(length * (demand - bank) ** 2) / length.sum())
    return LeastRms(
        battery_W=battery,
        rms_W=float(np.sqrt(max(mean_square - gap * power_scale**2, 0.0))),
        thrown_away_J=max(stored - window.end_J, 0.0),
    )


def _solve(
    length_s: FloatArray, demand_W: FloatArray, window: EnergyWindow, limits: BankLimits, power_scale: float
) -> tuple[FloatArray, float]:
    """Bank power of the programme [W], and how far from the least it may be."""
    try:
        cp: Any = importlib.import_module("cvxpy")  # an optional package, and slow
    except ImportError:
        raise MissingPackageError("The bound with losses", "cvxpy", "design") from None
    lossy = limits.loss_per_W > 0.0
    # Scaled to the demand and the window, so that the solver's tolerances mean the same for any pack.
    energy_scale = max(window.highest_J - window.lowest_J, power_scale * float(length_s.mean()))
    low, high, start, end = (
        (value - window.lowest_J) / energy_scale
        for value in (window.lowest_J, window.highest_J, window.start_J, window.end_J)
    )
    n = length_s.size
    bank, energy = cp.Variable(n), cp.Variable(n + 1)
    step = length_s * (power_scale / energy_scale)
    even = energy[:-1] - cp.multiply(step, bank)
    if lossy:
        loss = limits.loss_per_W * power_scale
        most = limits.loss_per_W * limits.power_W**2 / power_scale
        balance = [energy[1:] <= even - cp.multiply(step, loss * cp.square(bank)), energy[1:] >= even - most * step]
    else:
        balance = [energy[1:] == even]
    problem = cp.Problem(
        cp.Minimize(cp.sum(cp.multiply(length_s / length_s.sum(), cp.square(demand_W / power_scale - bank)))),
        [
            *balance,
            energy >= low,
            energy <= high,
            energy[0] == start,
            energy[n] >= end if lossy else energy[n] == end,
            cp.abs(bank) <= limits.power_W / power_scale,
        ],
    )
    gap = _gap_of(cp, problem)
    return np.asarray(bank.value, dtype=np.float64) * power_scale, gap


def _gap_of(cp: Any, problem: Any) -> float:
    """Solve the programme and say how far from the least it may be, in mean squares relative to the largest demand."""
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Solution may be inaccurate", category=UserWarning)
            problem.solve(
                solver=cp.CLARABEL,
                tol_gap_abs=_GAP,
                tol_gap_rel=_GAP,
                reduced_tol_gap_abs=_WIDER_GAP,
                reduced_tol_gap_rel=_WIDER_GAP,
            )
    except cp.error.SolverError as error:
        raise ConvergenceError(f"The bound with losses was not found ({error}).") from None
    gap = {"optimal": _GAP, "optimal_inaccurate": _WIDER_GAP}.get(problem.status)
    if gap is None:
        raise ConvergenceError(
            f"The bound with losses was not found (the solver says {problem.status}). Check that the bank's power "
            "limit lets it reach its energy at the end."
        )
    return gap
