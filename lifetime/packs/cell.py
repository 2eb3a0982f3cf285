"""One cell as the library uses it: electrical limits, open-circuit curve, ageing law, and where each number is from."""

from dataclasses import dataclass

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.checks import FloatArray, as_floats
from lifetime.errors import NumberError
from lifetime.packs.current_table import CurrentTable
from lifetime.packs.profile import Grade, Kind
from lifetime.packs.resistance import SINGLE, ResistanceShape


@dataclass(frozen=True, slots=True, eq=False)
class OpenCircuitCurve:
    """Open-circuit voltage against state of charge, straight between the points.

    Args:
        soc: States of charge [0..1], rising.
        voltage_V: Open-circuit voltages there [V], not falling.
        label: What the curve is, for reports.

    Raises:
        NumberError: Fewer than two points, unequal lengths, or the wrong order.
    """

    soc: FloatArray
    voltage_V: FloatArray
    label: str

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        soc, volts = as_floats(self.soc, "soc of the curve [1]"), as_floats(self.voltage_V, "voltage of the curve [V]")
        if soc.ndim != 1 or soc.size < 2 or soc.shape != volts.shape:
            raise NumberError(
                f"Open-circuit curve: expected as many voltages as states of charge, at least two of each, got "
                f"{volts.size} and {soc.size}."
            )
        if not (np.diff(soc) > 0.0).all() or not (np.diff(volts) >= 0.0).all():
            raise NumberError("Open-circuit curve: states of charge must rise and voltages must not fall.")
        object.__setattr__(self, "soc", soc)
        object.__setattr__(self, "voltage_V", volts)

    def __call__(self, soc: FloatArray | float) -> FloatArray:
        """Open-circuit voltage [V] at a state of charge [0..1].

        Beyond its end points the curve goes on straight; whether such a state may occur is for the caller to judge.

        Args:
            soc: State of charge, any shape.
        """
        x = np.asarray(soc, dtype=np.float64)
        grid, volts = self.soc, self.voltage_V
        voltage = np.interp(x, grid, volts)
        below, above = x < grid[0], x > grid[-1]
        if below.any():
            slope = (volts[1] - volts[0]) / (grid[1] - grid[0])
            voltage = np.where(below, volts[0] + slope * (x - grid[0]), voltage)
        if above.any():
            slope = (volts[-1] - volts[-2]) / (grid[-1] - grid[-2])
            voltage = np.where(above, volts[-1] + slope * (x - grid[-1]), voltage)
        return np.asarray(voltage, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class ProvenanceEntry:
    """Where one number of a parameter set comes from.

    Args:
        key: Path of keys in the file, for example ``law.coefficients.end_loss``.
        value: The number, list or word.
        unit: Its unit; empty for a word.
        source: Who says so.
        grade: How the value was come by.
    """

    key: str
    value: float | tuple[float, ...] | str
    unit: str
    source: str
    grade: Grade


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """One battery cell or ultracapacitor.

    Args:
        id: Shipped id, or the path as the user gave it.
        kind: ``battery`` or ``ultracapacitor``.
        title: Name for people.
        chemistry: Short name of the chemistry.
        rated_capacity_Ah: Rated charge [Ah]; for an ultracapacitor C times rated voltage over 3600.
        capacitance_F: Rated capacitance [F]; None for a battery.
        resistance_ohm: Initial resistance to a pulse of some seconds [ohm]; DC ESR for an ultracapacitor.
        nominal_voltage_V: Nominal voltage [V]; rated voltage for an ultracapacitor.
        minimum_voltage_V: Lowest allowed voltage [V].
        maximum_voltage_V: Highest allowed voltage [V].
        maximum_current_A: Peak current, about one second for an ultracapacitor [A]; None where not known.
        continuous_current_A: Continuous rms current [A]; None where not known.
        mass_kg: Mass [kg]; None where not known.
        thermal_resistance_K_per_W: Of a free-standing cell to the air around it [K/W]; None where not known.
        heat_capacity_J_per_K: Of one cell [J/K]; None where not known.
        open_circuit: Open-circuit voltage against state of charge.
        law: The ageing law with its numbers.
        tested_loss: Loss of capacity that the tests behind the law reached [0..1]; None where not known.
        resistance_shape: How the resistance depends on pulse length, state of charge and temperature.
        discharge_limits: Most discharge current over temperature; None where the set states none.
        charge_limits: Most charge current over temperature; None where the set states none.
        tested_loss_is_stated: False where the set does not state it, and the end of standard tests is taken.
        provenance: Every number of the set with its source.
        lowest_grade: The weakest grade among them.
        caveats: Standing sentences for reports.
        references: The published sources of the set.
        sha256: Hash of the file's bytes.
        absolute_maximum_voltage_V: Highest terminal voltage allowed for moments [V]; None where not known.
    """

    id: str
    kind: Kind
    title: str
    chemistry: str
    rated_capacity_Ah: float
    capacitance_F: float | None
    resistance_ohm: float
    nominal_voltage_V: float
    minimum_voltage_V: float
    maximum_voltage_V: float
    maximum_current_A: float | None
    continuous_current_A: float | None
    mass_kg: float | None
    thermal_resistance_K_per_W: float | None
    heat_capacity_J_per_K: float | None
    open_circuit: OpenCircuitCurve
    law: AgeingLaw
    tested_loss: float | None
    provenance: tuple[ProvenanceEntry, ...]
    lowest_grade: Grade
    caveats: tuple[str, ...]
    references: tuple[str, ...]
    sha256: str
    resistance_shape: ResistanceShape = SINGLE
    discharge_limits: CurrentTable | None = None
    charge_limits: CurrentTable | None = None
    tested_loss_is_stated: bool = True
    absolute_maximum_voltage_V: float | None = None
