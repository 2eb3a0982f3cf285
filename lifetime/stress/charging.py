"""Charging after the drive: constant current up to the voltage limit, then constant voltage while the current falls."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.source import Source

CURRENT_STEPS = 24
"""Time steps of the constant current."""
_VOLTAGE_STEPS = 24
"""Charge steps of the constant voltage."""
_CUT_OFF = 0.05
"""Share of the charging current at which constant-voltage charging ends; common practice, no source."""
_BISECTIONS = 60
_LEAST_CHARGE = 1e-12
"""Charge relative to capacity that is none."""


@dataclass(frozen=True, slots=True)
class Charging:
    """How a source is brought back after the drive.

    Args:
        current_A: Charging current of the pack [A], > 0; None where the source is not charged.
        to_soc: State of charge at which charging ends [0..1].
        whole_log: True where the drive is a log of everything, charging and rest too, and nothing is added to it.
        asked_A: Charging current asked for, where the pack takes less [A]; None where it takes it.
        ends_after_s: From the start of the drive to the end of charging [s], > 0; None to charge at once. Where the
            time is too short for it, charging begins at once and ends later.
    """

    current_A: float | None
    to_soc: float
    whole_log: bool = False
    asked_A: float | None = None
    ends_after_s: float | None = None

    def wait_s(self, driven_s: float, charging_s: float) -> float:
        """How long the source rests between the drive and charging [s], >= 0.

        Args:
            driven_s: Length of the drive [s].
            charging_s: How long charging takes [s]; 0 where nothing is charged.
        """
        if self.ends_after_s is None or charging_s <= 0.0:
            return 0.0
        return max(self.ends_after_s - driven_s - charging_s, 0.0)


@dataclass(frozen=True, slots=True)
class ChargeStage:
    """A stretch of charging at one current.

    Args:
        current_A: Charging current [A], > 0.
        length_s: How long [s], > 0.
        steps: Time steps it is cut into, >= 1.
    """

    current_A: float
    length_s: float
    steps: int

    @property
    def charge_As(self) -> float:
        """Charge brought in [As]."""
        return self.current_A * self.length_s


def charge_stages(source: Source, charging: Charging, drawn_As: float) -> list[ChargeStage]:
    """Charge a new source after its drive, within its highest voltage and at its initial resistance.

    Args:
        source: The source.
        charging: Current and state of charge asked for.
        drawn_As: Net charge drawn by the drive [As].

    Returns:
        The stages in order of time; none where the source is not charged or stands above the state asked for.
    """
    current = charging.current_A
    target_As = (source.start_soc - charging.to_soc) * source.capacity_As
    if not current or drawn_As <= target_As:
        return []
    turn_As = _reached(source, current, drawn_As, target_As)
    stages = []
    if drawn_As - turn_As > _LEAST_CHARGE * source.capacity_As:
        stages.append(ChargeStage(current, (drawn_As - turn_As) / current, CURRENT_STEPS))
    if turn_As <= target_As:
        return stages
    end_As = _reached(source, _CUT_OFF * current, turn_As, target_As)
    if turn_As - end_As <= _LEAST_CHARGE * source.capacity_As:
        return stages
    edges = np.linspace(turn_As, end_As, _VOLTAGE_STEPS + 1)
    middle = 0.5 * (edges[:-1] + edges[1:])
    soc = source.start_soc - middle / source.capacity_As
    room_A = (source.maximum_voltage_V - source.open_circuit_V(soc)) / steady_resistance_ohm(source, soc)
    step_As = (turn_As - end_As) / _VOLTAGE_STEPS
    return stages + [ChargeStage(amperes, step_As / amperes, 1) for amperes in room_A.tolist()]


def steady_resistance_ohm(source: Source, soc: FloatArray) -> FloatArray:
    """Resistance to a current held for long at 25 °C [Ω], shape of ``soc``.

    Args:
        source: The source when new.
        soc: State of charge [0..1], any shape.
    """
    return source.resistance_ohm * source.shape.steady_fraction * source.shape.at_soc(soc)


def _reached(source: Source, current_A: float, from_As: float, target_As: float) -> float:
    """Charge drawn at which a charging current brings the terminals to their highest voltage, or the target [As]."""

    def room_V(drawn_As: float) -> float:
        soc = np.array([source.start_soc - drawn_As / source.capacity_As])
        drop_V = float(steady_resistance_ohm(source, soc)[0]) * current_A
        return source.maximum_voltage_V - drop_V - float(source.open_circuit_V(soc)[0])

    if room_V(target_As) >= -1e-9 * source.maximum_voltage_V:
        return target_As
    if room_V(from_As) <= 0.0:
        return from_As
    fits, too_full = from_As, target_As
    for _ in range(_BISECTIONS):
        middle = 0.5 * (fits + too_full)
        fits, too_full = (middle, too_full) if room_V(middle) > 0.0 else (fits, middle)
    return fits
