"""The current that delivers a power: the source's own voltage decides, and falls as it is drawn."""

import math
from dataclasses import replace

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import ConvergenceError
from lifetime.stress.branches import BranchState
from lifetime.stress.clipping import Clipping
from lifetime.stress.delivery import Delivery
from lifetime.stress.intervals import Intervals
from lifetime.stress.settling import is_settled
from lifetime.stress.source import Source

_SETTLED = 1e-10
"""Largest error of state of charge at which the trace counts as settled."""
_COARSE = 1e-7
"""The same for a trace that is only blended with others."""
_UNMOVED = 1e-13
"""Movement of the state of charge within which open-circuit voltage and resistance are those of the round before."""
_HARDLY_MOVED = 1e-8
"""The same for a trace that is only blended with others."""
_FINER = 1000.0
"""How much finer a branch's voltage is settled, as a share of the whole: heat goes with its square."""
_MOST_ROUNDS = 60
_PATIENCE, _ASTRAY = 10, 1e-3
"""Rounds after which a state of charge that still moves by so much closes in on nothing."""
_ROUNDING = 1e-13
"""Relative movement of a branch's voltage that is rounding."""
_FINE_ROUNDS = 30
"""Rounds after which currents are settled coarsely: those near the most a source delivers, where slow branches answer
almost as much as they are asked, and those within limits, which may sway by a bit between two of them."""
_EMPTY_VOLTAGE = 0.2
"""Share of the full pack's voltage below which it counts as empty; the trace goes on at that voltage and says so."""


def current_for_power(
    power_W: FloatArray, open_circuit_V: FloatArray, resistance_ohm: float | FloatArray
) -> tuple[FloatArray, float]:
    """Current that makes ``P = U I - R I²`` at the terminals.

    Args:
        power_W: Terminal power, positive when discharging [W].
        open_circuit_V: Open-circuit voltage, less what slower parts of the resistance drop, same shape [V], > 0.
        resistance_ohm: Source resistance, or its part that acts at once [Ω], >= 0, one or same shape.

    Returns:
        Current [A], and the largest share by which the power exceeds the source's matched power ``U² / 4R``
        (0 where it can be delivered; there the current of the matched load is returned).

    Source:
        Closed form of the constant-power discharge; the root with the smaller current.
    """
    discriminant = open_circuit_V * open_circuit_V - (4.0 * resistance_ohm) * power_W
    lowest = float(discriminant.min(initial=0.0))
    shortage = 0.0
    if lowest < 0.0:
        shortage = float(np.max(-discriminant / (open_circuit_V * open_circuit_V)))
        discriminant = np.maximum(discriminant, 0.0)
        with np.errstate(divide="ignore"):
            power_W = np.minimum(power_W, open_circuit_V * open_circuit_V / (4.0 * resistance_ohm))
    return 2.0 * power_W / (open_circuit_V + np.sqrt(discriminant)), shortage


def to_currents(
    run: Intervals,
    source: Source,
    drawn_As: float,
    *,
    capacity_fraction: float = 1.0,
    resistance_ratio: float = 1.0,
    fine: bool = True,
) -> tuple[Intervals, float]:
    """Turn a stretch of power into a stretch of current, whatever the limits: see ``delivery``.

    Args:
        run: Intervals whose channel is power [W].
        source: The source that delivers it.
        drawn_As: Charge drawn before the stretch [As].
        capacity_fraction: Health of the source: capacity over initial [1], > 0.
        resistance_ratio: Resistance over the stated one, by health and temperature [1], > 0.
        fine: See ``delivery``.

    Returns:
        The intervals with current [A] in place of power, and the largest shortage: see ``current_for_power``; 1 where
        the source runs empty on the way.

    Raises:
        ConvergenceError: The rounds do not settle.
    """
    ended = delivery(run, source, drawn_As, (capacity_fraction, resistance_ratio), fine=fine)
    return ended.run, ended.shortage


def delivery(
    run: Intervals,
    source: Source,
    drawn_As: float,
    health: tuple[float, float] = (1.0, 1.0),
    branches: BranchState | None = None,
    clipping: Clipping | None = None,
    *,
    alike: Delivery | None = None,
    fine: bool = True,
    patient: bool = True,
) -> Delivery:
    """Turn a stretch of power into a stretch of current by following state of charge and RC branches.

    The whole stretch is solved at once: state of charge and branches give voltage, voltage gives current, current
    gives both again, until nothing moves. Both change slowly with the current, so a few rounds settle it.

    Args:
        run: Intervals whose channel is power [W].
        source: The source that delivers it.
        drawn_As: Charge drawn before the stretch [As].
        health: Capacity over initial, and resistance over the stated one by health and temperature [1], > 0.
        branches: The RC branches before the stretch; None for rest.
        clipping: Limits to keep to, or None to serve the power whatever it takes.
        alike: A stretch of as many intervals that is probably alike, such as the pass before; the rounds begin with
            its course, and end where they end without it.
        fine: False where RC branches need not be settled further than a worn trace, blended with others, can use.
        patient: False to give up soon where rounds do not close in, for a caller who knows another way.

    Raises:
        ConvergenceError: The rounds do not settle.
    """
    floor = _EMPTY_VOLTAGE * float(source.open_circuit_V(np.ones(1))[0])
    capacity, resistance = source.capacity_As * health[0], source.resistance_ohm * health[1]
    shape = source.shape
    branches = BranchState(shape.branches) if branches is None else branches
    steps, begun = branches.steps(run.length_s), branches.voltages_A
    soc = np.full(run.length_s.size + 1, source.start_soc - drawn_As / capacity)
    slow = np.full(soc.size, float(sum(begun)))
    if alike is not None:
        soc[1:] += alike.soc[1:] - alike.soc[0]
        slow[1:] = alike.slow_A[1:]
    passed = run if clipping is None else clipping.within_power(run)
    tolerance, unmoved = (_SETTLED, _UNMOVED) if fine or not steps else (_COARSE, _HARDLY_MOVED)
    change, drift = 0.0, math.inf
    for done in range(_MOST_ROUNDS):
        before = change
        if drift > unmoved:
            voltage = source.open_circuit_V(soc)
            empty = float(voltage.min()) < floor
            if empty:
                voltage = np.maximum(voltage, floor)
            factor = 1.0 if shape.is_flat else shape.at_soc(0.5 * (soc[:-1] + soc[1:]))
            at_once: float | FloatArray = resistance * shape.ohmic_fraction * factor
            drift = 0.0
        inner = voltage - resistance * slow if steps else voltage
        left, short_left = current_for_power(passed.left, inner[:-1], at_once)
        right, short_right = current_for_power(passed.right, inner[1:], at_once)
        asked = left, right
        if clipping is not None:
            left, right = clipping.within(asked, inner, at_once, soc, capacity)
            short_left = short_right = 0.0
        drawn = np.cumsum(0.5 * (left + right) * run.length_s)
        latest = source.start_soc - (drawn_As + drawn) / capacity
        change = float(np.max(np.abs(latest - soc[1:]), initial=0.0))
        drift += change
        soc[1:] = latest
        if steps:
            paths = [step.voltages(left, right, factor, start) for step, start in zip(steps, begun, strict=True)]
            built_up = paths[0] if len(paths) == 1 else np.add(*paths) if len(paths) == 2 else np.sum(paths, axis=0)
            # What rounding moves of a large voltage never settles.
            rounding = _ROUNDING * float(np.max(np.abs(built_up)))
            moved = max(float(np.max(np.abs(built_up - slow))) - rounding, 0.0)
            moved *= resistance / (floor / _EMPTY_VOLTAGE)
            change = max(change, moved * _FINER if fine else moved)
            slow = built_up
        # Limits may jump from one round to the next, so that changes then foretell nothing.
        near_enough = tolerance if done < _FINE_ROUNDS else _COARSE
        if is_settled(change, before if clipping is None else 0.0, near_enough):
            shortage = 1.0 if empty else max(short_left, short_right)
            return Delivery(replace(run, left=left, right=right), shortage, inner, at_once, soc, slow, asked)
        if not patient and done >= _PATIENCE and change > _ASTRAY:
            break
    raise ConvergenceError(
        f"The current of the {source.kind} for this power history did not settle in {_MOST_ROUNDS} rounds "
        f"(state of charge still moves by {change:.1e}). The pack is probably far too small for the power asked of it."
    )
