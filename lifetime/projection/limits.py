"""End of life: which limit comes first, and when each would come."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.checks import FloatArray
from lifetime.constants import MONTHS_PER_YEAR
from lifetime.projection.duty import Duty
from lifetime.projection.years import Trajectory
from lifetime.stress.drive import Drive
from lifetime.stress.source import Source

_BISECTIONS = 60
_SLACK = 1e-9
"""Relative slack on bounds, so that a state standing exactly on its bound is not called outside."""
_NOTHING_LEFT = 1e-9
"""Capacity fraction below which a pack counts as having none."""
_DIGITS = 1e-7
"""A state this close to its bound stands on it: a log's digits do not tell more."""


CHARGE_BOUNDS = frozenset({"highest state of charge", "highest voltage"})
"""Bounds that only charging passes."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """When a limit is reached.

    Args:
        limit: ``capacity``, ``resistance``, ``capacitance``, ``esr``, ``requirement`` or ``power``.
        years: Service time [years], or None where it is not reached within the search.
        detail: For ``requirement`` which bound, for ``power`` which corner; empty otherwise.
    """

    limit: str
    years: float | None
    detail: str = ""


def first_below(
    trajectory: Trajectory, margin: Callable[[FloatArray], FloatArray], margins: FloatArray
) -> float | None:
    """Time at which a margin first falls to zero [years].

    Args:
        trajectory: The run.
        margin: Margin as a function of clocks, shape (mechanisms,) -> scalar array; zero or less means reached.
        margins: The margin at every month of the trajectory, shape (n,).

    Returns:
        The time, found inside the month by bisection on the clocks; None where the margin stays above zero.
    """
    reached = np.flatnonzero(margins <= 0.0)
    if reached.size == 0:
        return None
    month = int(reached[0])
    if month == 0:
        return 0.0
    before, after = trajectory.clocks[month - 1], trajectory.clocks[month]
    low, high = 0.0, 1.0
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if float(margin((1.0 - middle) * before + middle * after)) <= 0.0:
            high = middle
        else:
            low = middle
    return (month - 1 + high) / MONTHS_PER_YEAR


def health_crossings(
    law: AgeingLaw, trajectory: Trajectory, *, capacity_limit: float, resistance_limit: float, kind: str
) -> list[Crossing]:
    """When the capacity and the resistance limit come, in the words of the source's kind.

    Args:
        law: The ageing law.
        trajectory: Its run.
        capacity_limit: Capacity (capacitance) fraction at end of life, 0..1.
        resistance_limit: Resistance (ESR) ratio at end of life, > 1.
        kind: ``battery`` or ``ultracapacitor``.
    """
    names = ("capacity", "resistance") if kind == "battery" else ("capacitance", "esr")

    def capacity(clocks: FloatArray) -> FloatArray:
        return law.fade(clocks).capacity_fraction - capacity_limit

    def resistance(clocks: FloatArray) -> FloatArray:
        return resistance_limit - law.fade(clocks).resistance_ratio

    crossings = [Crossing(names[0], first_below(trajectory, capacity, trajectory.capacity_fraction - capacity_limit))]
    if law.has_resistance:
        margins = resistance_limit - trajectory.resistance_ratio
        crossings.append(Crossing(names[1], first_below(trajectory, resistance, margins)))
    return crossings


class DutyMargin:
    """How far the day's state of charge and terminal voltage stay from their bounds, at any health.

    Args:
        source: The source with its bounds.
        duty: The duty with its traced days.
        skip: Bounds the new pack already exceeds, which therefore cannot end its life.
        resistance_factor: Resistance by the temperature at which the day is judged [1]; 1 at 25 °C.
    """

    BOUNDS = ("lowest state of charge", "highest state of charge", "lowest voltage", "highest voltage")

    def __init__(
        self, source: Source, duty: Duty, skip: frozenset[str] = frozenset(), resistance_factor: float = 1.0
    ) -> None:
        self._source = source
        self._duty = duty
        self._skip = skip
        self._factor = resistance_factor

    def by_bound(self, capacity_fraction: float, resistance_ratio: float) -> dict[str, float]:
        """Margin to each bound, relative to the bound's scale; negative means outside.

        Args:
            capacity_fraction: Present capacity over initial [1], > 0.
            resistance_ratio: Present resistance over initial [1], > 0.
        """
        resistance_ratio *= self._factor
        weights = self._duty.weights(capacity_fraction, resistance_ratio)
        total = np.zeros(4)
        for weight, worn in zip(weights.tolist(), self._duty.days, strict=True):
            total += weight * self._margins(worn.day.drive, capacity_fraction, resistance_ratio)
        total = np.where(np.abs(total) < _DIGITS, 0.0, total)
        pairs = zip(self.BOUNDS, (total + _SLACK).tolist(), strict=True)
        return {name: margin for name, margin in pairs if name not in self._skip}

    def smallest(self, capacity_fraction: float, resistance_ratio: float) -> tuple[float, str]:
        """The tightest margin and its bound.

        Args:
            capacity_fraction: Present capacity over initial [1], > 0.
            resistance_ratio: Present resistance over initial [1], > 0.
        """
        margins = self.by_bound(capacity_fraction, resistance_ratio)
        if not margins:
            return 1.0, ""
        bound = min(margins, key=lambda name: margins[name])
        return margins[bound], bound

    def crossing(self, law: AgeingLaw, trajectory: Trajectory) -> Crossing:
        """When the pack no longer delivers its duty."""

        def margin(clocks: FloatArray) -> FloatArray:
            health = law.fade(clocks)
            return np.asarray(self.smallest(float(health.capacity_fraction), float(health.resistance_ratio))[0])

        month = self._first_month(trajectory)
        if month is None:
            return Crossing("requirement", None)
        margins = np.ones(trajectory.years.size)
        margins[month:] = -1.0
        years = first_below(trajectory, margin, margins)
        health = law.fade(trajectory.clocks[month])
        return Crossing(
            "requirement", years, self.smallest(float(health.capacity_fraction), float(health.resistance_ratio))[1]
        )

    def _first_month(self, trajectory: Trajectory) -> int | None:
        """First month outside; health only falls, so the months can be halved instead of walked."""

        def outside(month: int) -> bool:
            return (
                self.smallest(float(trajectory.capacity_fraction[month]), float(trajectory.resistance_ratio[month]))[0]
                <= 0.0
            )

        low, high = 0, trajectory.years.size - 1
        if outside(low):
            return 0
        if not outside(high):
            return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if outside(middle) else (middle, high)
        return high

    def _margins(self, drive: Drive, capacity_fraction: float, resistance_ratio: float) -> FloatArray:
        source = self._source
        # A pack that has lost everything within a month is outside, not undefined.
        capacity_fraction = max(capacity_fraction, _NOTHING_LEFT)
        load = source.load_share(capacity_fraction)
        capacity = source.capacity_As * capacity_fraction / load
        resistance = source.resistance_ohm * resistance_ratio * load
        lowest_soc = source.start_soc - drive.highest_As / capacity
        highest_soc = source.start_soc - drive.lowest_As / capacity
        lowest_V = self._lowest_voltage(drive, capacity, resistance)
        highest_V = self._highest_voltage(drive, capacity, resistance)
        return np.array(
            [
                lowest_soc - source.minimum_soc,
                source.maximum_soc - highest_soc,
                (lowest_V - source.minimum_voltage_V) / source.maximum_voltage_V,
                (source.maximum_voltage_V - highest_V) / source.maximum_voltage_V,
            ]
        )

    def _lowest_voltage(self, drive: Drive, capacity: float, resistance: float) -> float:
        level = drive.envelope
        charge = np.minimum(level.charge_high_As, drive.highest_As)
        voltage = self._source.open_circuit_V(self._source.start_soc - charge / capacity)
        return float(np.min(voltage - resistance * level.highest_A))

    def _highest_voltage(self, drive: Drive, capacity: float, resistance: float) -> float:
        level = drive.envelope
        charge = np.maximum(level.charge_low_As, drive.lowest_As)
        voltage = self._source.open_circuit_V(self._source.start_soc - charge / capacity)
        return float(np.max(voltage - resistance * level.lowest_A))
