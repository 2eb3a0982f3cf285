"""What the trace has to know of a source: charge, resistance, open-circuit voltage, heat."""

from collections.abc import Callable
from dataclasses import dataclass

from lifetime.checks import FloatArray
from lifetime.packs.resistance import SINGLE, ResistanceShape
from lifetime.stress.coolant import Coolant


@dataclass(frozen=True, slots=True)
class Thermal:
    """A lumped pack on its way to coolant or ambient air.

    Args:
        resistance_K_per_W: Pack to coolant or ambient [K/W], > 0.
        heat_capacity_J_per_K: Of the whole pack [J/K], > 0.
    """

    resistance_K_per_W: float
    heat_capacity_J_per_K: float

    @property
    def time_constant_s(self) -> float:
        """Time constant of the pack's temperature [s]."""
        return self.resistance_K_per_W * self.heat_capacity_J_per_K


@dataclass(frozen=True, slots=True)
class Source:
    """A battery pack or an ultracapacitor bank, seen from its terminals.

    Both count charge: the state of charge is ``start_soc - charge / capacity``, where charge is what has been drawn
    since the day began. For a bank the state of charge is the charge fraction V / V_rated, which makes its
    open-circuit voltage a straight line.

    Args:
        kind: Which of the two.
        capacity_As: Charge between empty and full when new [As], > 0; for a bank C * V_rated.
        resistance_ohm: Of the whole pack or bank when new, to a pulse of 10 s at 25 °C [Ω], >= 0.
        start_soc: State of charge when the working day begins [0..1].
        rest_soc: State of charge at rest [0..1], or None to rest where the drive ended.
        open_circuit_V: Pack open-circuit voltage [V] at an array of states of charge.
        minimum_voltage_V: Lower terminal bound [V].
        maximum_voltage_V: Upper terminal bound [V].
        minimum_soc: Lower bound of the state of charge [0..1].
        maximum_soc: Upper bound of the state of charge [0..1].
        thermal: Lumped thermal model, or None for a pack at ambient temperature.
        hot_spot_K: Hottest cell above the pack mean while the pack is loaded [K], >= 0.
        parallel: Cells side by side; the cell's current is the pack's over this.
        series: Cells in series.
        keeps_soc_limits: True where it is cycled between the same states of charge of its present capacity, so that
            charge and current fall with capacity; False where it moves the same charge at any health.
        shape: How the resistance depends on time, temperature and state of charge.
        coolant: What holds its surroundings at a setpoint, or None for ambient air.
    """

    kind: str
    capacity_As: float
    resistance_ohm: float
    start_soc: float
    rest_soc: float | None
    open_circuit_V: Callable[[FloatArray], FloatArray]
    minimum_voltage_V: float
    maximum_voltage_V: float
    minimum_soc: float
    maximum_soc: float
    thermal: Thermal | None
    hot_spot_K: float
    parallel: int
    series: int
    keeps_soc_limits: bool = False
    shape: ResistanceShape = SINGLE
    coolant: Coolant | None = None

    @property
    def is_battery(self) -> bool:
        """True for a battery pack, False for an ultracapacitor bank."""
        return self.kind == "battery"

    def around_K(self, ambient_K: FloatArray) -> FloatArray:
        """Temperature around the source [K]: that of the air, or of a coolant.

        Args:
            ambient_K: Temperature of the air [K], any shape.
        """
        return ambient_K if self.coolant is None else self.coolant.around_K(ambient_K)

    def load_share(self, capacity_fraction: float) -> float:
        """Charge and current at a health, relative to those traced when new.

        Args:
            capacity_fraction: Capacity over initial [1], > 0.
        """
        return capacity_fraction if self.keeps_soc_limits else 1.0
