"""From one cell to a pack of cells in series and parallel."""

from dataclasses import dataclass

from lifetime.constants import SECONDS_PER_HOUR
from lifetime.errors import ProfileError
from lifetime.packs.cell import Cell


@dataclass(frozen=True, slots=True, eq=False)
class Pack:
    """Equal cells: ``series`` groups of ``parallel`` cells each; busbars and contactors are not included.

    Args:
        cell: The cell.
        series: Groups in series, >= 1.
        parallel: Cells side by side in a group, >= 1.

    Raises:
        ProfileError: A count is not a whole number of at least 1.
    """

    cell: Cell
    series: int
    parallel: int

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        for name, count in (("series", self.series), ("parallel", self.parallel)):
            if isinstance(count, bool) or not isinstance(count, int) or count < 1:
                raise ProfileError(f"{name} must be a whole number of at least 1, got {count}.")

    @property
    def cells(self) -> int:
        """Number of cells [1]."""
        return self.series * self.parallel

    @property
    def pack_resistance_ohm(self) -> float:
        """Initial resistance [ohm]: R times series over parallel."""
        return self.cell.resistance_ohm * self.series / self.parallel

    @property
    def pack_capacity_Ah(self) -> float:
        """Rated charge [Ah]: a series string carries the same charge through every cell."""
        return self.cell.rated_capacity_Ah * self.parallel

    @property
    def pack_capacitance_F(self) -> float | None:
        """Rated capacitance [F], C times parallel over series; None for a battery."""
        return None if self.cell.capacitance_F is None else self.cell.capacitance_F * self.parallel / self.series

    @property
    def pack_nominal_voltage_V(self) -> float:
        """Nominal voltage [V]."""
        return self.cell.nominal_voltage_V * self.series

    @property
    def pack_minimum_voltage_V(self) -> float:
        """Lowest allowed voltage [V]."""
        return self.cell.minimum_voltage_V * self.series

    @property
    def pack_maximum_voltage_V(self) -> float:
        """Highest allowed voltage [V]."""
        return self.cell.maximum_voltage_V * self.series

    @property
    def pack_maximum_current_A(self) -> float | None:
        """Peak current [A]; None where the cell's is not known."""
        return None if self.cell.maximum_current_A is None else self.cell.maximum_current_A * self.parallel

    @property
    def pack_energy_Wh(self) -> float:
        """Nominal energy [Wh]: rated charge times nominal voltage, or C V^2 / 2 at rated voltage."""
        if self.cell.capacitance_F is None:
            return self.pack_capacity_Ah * self.pack_nominal_voltage_V
        return 0.5 * self.cell.capacitance_F * self.cell.maximum_voltage_V**2 * self.cells / SECONDS_PER_HOUR

    @property
    def pack_mass_kg(self) -> float | None:
        """Mass of the cells alone [kg]; None where the cell's is not known."""
        return None if self.cell.mass_kg is None else self.cell.mass_kg * self.cells
