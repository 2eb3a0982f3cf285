"""Resistance over pulse length, temperature and state of charge, fitted to a user's own measurements."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray, as_floats
from lifetime.errors import ConvergenceError, NumberError
from lifetime.packs.resistance import Branch, ResistanceShape
from lifetime.stress.branches import BranchSteps

STATED_PULSE_S: Final = 10.0
"""Length of the pulse whose resistance is the stated one [s]."""
SOC_STEPS: Final = (0.0, 0.1, 0.2, 0.3)
"""States of charge at which the factor of a pulse fit is found; from the last on it is 1."""
TRACE_SOC_STEPS: Final = (0.2, 0.3, 0.45, 0.6, 0.75, 0.9)
"""The same of a fit to a course of voltage; at the last the factor is 1."""
_TAUS_S: Final = (3.0, 60.0)
_TRACE_TAUS_S: Final = (20.0, 400.0)
_ACTIVATION_J_PER_MOL: Final = 20_000.0
_NEAR: Final = 0.05
"""How near to a step of the state of charge a measurement must be."""
_HIGHEST_ACTIVATION: Final = 1e5
_EVALUATIONS: Final = 400


@dataclass(frozen=True, slots=True, eq=False)
class FittedResistance:
    """A resistance as fitted.

    Args:
        stated_ohm: Resistance to a pulse of 10 s at 25 °C and mid state of charge [Ω].
        shape: How it depends on pulse length, temperature and state of charge, relative to that.
        residuals: Fitted less measured, in the order given: relative for pulses [1], voltages for a course [V].
    """

    stated_ohm: float
    shape: ResistanceShape
    residuals: FloatArray

    @property
    def rms(self) -> float:
        """Quadratic mean of the residuals, in their unit."""
        return float(np.sqrt(np.mean(self.residuals**2)))

    def pulse_ohm(self, length_s: FloatArray, temperature_K: FloatArray, soc: FloatArray) -> FloatArray:
        """Resistance to a pulse from rest [Ω], shapes broadcast.

        Args:
            length_s: Length of the pulse [s], >= 0.
            temperature_K: Temperature of the cell [K].
            soc: State of charge [0..1].
        """
        shape = self.shape
        return np.asarray(
            self.stated_ohm
            * shape.pulse_fraction(length_s)
            * shape.at_temperature(temperature_K)
            * shape.at_soc(np.asarray(soc))
        )


def fit_pulses(
    length_s: FloatArray, temperature_K: FloatArray, soc: FloatArray, resistance_ohm: FloatArray
) -> FittedResistance:
    """Fit pulse resistances: two RC branches, an activation energy where temperatures differ, a factor at low charge.

    Args:
        length_s: Length of each pulse [s], shape (n,), > 0.
        temperature_K: Temperature of each [K], shape (n,).
        soc: State of charge of each [0..1], shape (n,).
        resistance_ohm: Voltage drop over current of each [Ω], shape (n,), > 0.

    Raises:
        NumberError: A value is not finite or out of its range, or there are fewer than 8 pulses.
        ConvergenceError: The fit does not settle.
    """
    given = [as_floats(one, name) for one, name in (
        (length_s, "length of the pulses [s]"), (temperature_K, "temperature [K]"), (soc, "state of charge [1]"),
        (resistance_ohm, "resistance [Ω]"))]  # fmt: skip
    length, kelvin, charge, measured = given
    if len({one.shape for one in given}) > 1 or length.size < 8 or min(length.min(), measured.min()) <= 0.0:
        raise NumberError(
            "Pulse fit: expected at least 8 pulses with a length, temperature, state of charge and resistance each, "
            f"lengths and resistances above 0; got {length.size}."
        )
    varies = float(np.ptp(kelvin)) > 1.0
    # A step whose neighbourhood was not measured has the factor of the next one.
    measured_steps = [place for place, step in enumerate(SOC_STEPS[:-1]) if charge.min() < step + _NEAR]

    def shape_of(x: FloatArray) -> tuple[float, ResistanceShape]:
        logs = np.zeros(len(SOC_STEPS))
        logs[measured_steps] = x[5 : 5 + len(measured_steps)]
        logs[: min(measured_steps, default=0)] = logs[min(measured_steps, default=0)]
        return _normalised(
            np.exp(x[:3]), np.exp(x[3:5]), _ACTIVATION_J_PER_MOL * x[-1] if varies else 0.0, SOC_STEPS, np.exp(logs)
        )

    def misses(x: FloatArray) -> FloatArray:
        stated, shape = shape_of(x)
        found = FittedResistance(stated, shape, np.zeros(0)).pulse_ohm(length, kelvin, charge)
        return np.asarray(np.log(found / measured))

    middle = float(np.median(measured))
    parts = np.log([0.7 * middle, 0.1 * middle, 0.5 * middle])
    start = np.concatenate([parts, np.log(_TAUS_S), np.full(len(measured_steps), 0.2), [1.0] if varies else []])
    lowest, highest = start - 6.0, start + 6.0
    if varies:
        lowest[-1], highest[-1] = 0.0, _HIGHEST_ACTIVATION / _ACTIVATION_J_PER_MOL
    stated, shape = shape_of(_solved(misses, start, lowest, highest))
    fitted = FittedResistance(stated, shape, np.zeros(0))
    return FittedResistance(stated, shape, fitted.pulse_ohm(length, kelvin, charge) / measured - 1.0)


def fit_course(
    time_s: list[FloatArray],
    current_A: list[FloatArray],
    voltage_V: list[FloatArray],
    start_soc: list[float],
    capacity_As: float,
    open_circuit_V: Callable[[FloatArray], FloatArray],
) -> FittedResistance:
    """Fit the terminal voltage of one or several courses that begin at rest: two RC branches, a factor over charge.

    Current is held from the sample before. Samples outside a state of charge of 0.2 to 0.9 are not looked at.

    Args:
        time_s: Time of each course [s], rising.
        current_A: Current [A], positive when discharging.
        voltage_V: Terminal voltage [V].
        start_soc: State of charge at each course's start [0..1].
        capacity_As: Capacity of the cell [As], > 0.
        open_circuit_V: Open-circuit voltage over the state of charge [V].

    Raises:
        ConvergenceError: The fit does not settle.
    """
    courses = [
        _Course(*parts, capacity_As, open_circuit_V)
        for parts in zip(time_s, current_A, voltage_V, start_soc, strict=True)
    ]
    drop = max(float(np.max(np.abs(course.drop_V), initial=0.0)) for course in courses)
    ohms = drop / max(float(np.max(np.abs(course.held_A))) for course in courses)

    def misses(x: FloatArray) -> FloatArray:
        parts, taus = np.exp(x[:3]), np.exp(x[3:5])
        factors = np.append(np.exp(x[5:]), 1.0)
        return np.concatenate([course.miss_V(parts, taus, factors) for course in courses])

    start = np.concatenate([np.log([0.5 * ohms, 0.3 * ohms, 0.3 * ohms]), np.log(_TRACE_TAUS_S), np.zeros(5)])
    solution = _solved(misses, start, start - 4.0, start + 4.0)
    factors = np.append(np.exp(solution[5:]), 1.0)
    stated, shape = _normalised(np.exp(solution[:3]), np.exp(solution[3:5]), 0.0, TRACE_SOC_STEPS, factors)
    return FittedResistance(stated, shape, misses(solution))


class _Course:
    """One course of current and voltage, prepared for a fit."""

    def __init__(
        self,
        time_s: FloatArray,
        current_A: FloatArray,
        voltage_V: FloatArray,
        start_soc: float,
        capacity_As: float,
        open_circuit_V: Callable[[FloatArray], FloatArray],
    ) -> None:
        self._length = np.diff(as_floats(time_s, "time [s]"))
        self.held_A = as_floats(current_A, "current [A]")[1:]
        drawn = np.cumsum(self.held_A * self._length)
        soc = start_soc - drawn / capacity_As
        self.drop_V = open_circuit_V(soc) - as_floats(voltage_V, "voltage [V]")[1:]
        self._middle = soc + 0.5 * self.held_A * self._length / capacity_As
        self._looked_at = (soc > TRACE_SOC_STEPS[0]) & (soc < TRACE_SOC_STEPS[-1])

    def miss_V(self, parts_ohm: FloatArray, taus_s: FloatArray, factors: FloatArray) -> FloatArray:
        """Measured terminal voltage less that of the parameters [V], at the samples looked at."""
        factor = np.interp(self._middle, TRACE_SOC_STEPS, factors)
        drop = parts_ohm[0] * factor * self.held_A
        for ohms, tau in zip(parts_ohm[1:].tolist(), taus_s.tolist(), strict=True):
            steps = BranchSteps.of(Branch(ohms, tau), self._length)
            drop = drop + steps.voltages(self.held_A, self.held_A, factor, 0.0)[1:]
        return np.asarray((drop - self.drop_V)[self._looked_at])


def _normalised(
    parts_ohm: FloatArray,
    taus_s: FloatArray,
    activation: float,
    soc: tuple[float, ...],
    factors: FloatArray,
) -> tuple[float, ResistanceShape]:
    """The stated resistance, and the shape over it; the faster branch first."""
    order = np.argsort(taus_s)
    plain = ResistanceShape(
        float(parts_ohm[0]), tuple(Branch(float(parts_ohm[1 + at]), float(taus_s[at])) for at in order)
    )
    stated = float(plain.pulse_fraction(np.array(STATED_PULSE_S)))
    branches = tuple(Branch(one.fraction / stated, one.time_constant_s) for one in plain.branches)
    return stated, ResistanceShape(
        plain.ohmic_fraction / stated,
        branches,
        max(float(activation), 0.0),
        soc,
        tuple(factors.tolist()),
    )


def _solved(
    misses: Callable[[FloatArray], FloatArray], start: FloatArray, lowest: FloatArray, highest: FloatArray
) -> FloatArray:
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import; only a fit needs it

    solution = least_squares(misses, start, bounds=(lowest, highest), max_nfev=_EVALUATIONS)
    if solution.status <= 0:
        raise ConvergenceError(
            f"The fit of the resistance did not settle within {_EVALUATIONS} evaluations. Check the units of the data, "
            "and that states of charge and temperatures are those of the pulses."
        )
    return np.asarray(solution.x)
