"""A parameter set and the pack made of it, as the document tells them: every number with its source and grade."""

from collections.abc import Sequence
from typing import Self

from lifetime.packs.cell import Cell, ProvenanceEntry
from lifetime.packs.pack import Pack
from lifetime.packs.withdrawn import WITHDRAWN
from lifetime.results.records import SourceResult
from lifetime.results.view import View
from lifetime.study.sections import Battery, Ultracapacitor


class ProvenanceView(View):
    """Where one number of a parameter set comes from."""

    key: str
    value: float | str | tuple[float, ...]
    unit: str
    source: str
    grade: str

    @classmethod
    def of(cls, entry: ProvenanceEntry) -> Self:
        """The number as it is told.

        Args:
            entry: Of the cell.
        """
        return cls(key=entry.key, value=entry.value, unit=entry.unit, source=entry.source, grade=entry.grade)


class ThermalView(View):
    """A lumped pack on its way to coolant or ambient air; the hottest cell lies ``hot_spot_K`` above the mean."""

    resistance_K_per_W: float
    heat_capacity_J_per_K: float
    hot_spot_K: float


class CoolantView(View):
    """A coolant that is held at a setpoint; null for a heater or a cooler that is not there."""

    setpoint_C: float
    resistance_K_per_W: float
    heating_cop: float | None
    cooling_cop: float | None


class PackView(View):
    """A pack or bank of equal cells; null where the parameter set does not say, or there is no such quantity.

    Older results have no coolant: ambient air surrounded the pack.
    """

    series: int
    parallel: int
    capacity_Ah: float
    capacitance_F: float | None
    resistance_ohm: float
    nominal_voltage_V: float
    energy_kWh: float
    mass_kg: float | None
    thermal: ThermalView | None
    coolant: CoolantView | None = None

    @classmethod
    def of(cls, cell: Cell, section: Battery | Ultracapacitor) -> Self:
        """The pack as it is told.

        Args:
            cell: What it is made of.
            section: Of the study.
        """
        pack = Pack(cell, section.series, section.parallel)
        coolant = section.coolant if isinstance(section, Battery) else None
        return cls(
            series=section.series,
            parallel=section.parallel,
            capacity_Ah=pack.pack_capacity_Ah,
            capacitance_F=pack.pack_capacitance_F,
            resistance_ohm=pack.pack_resistance_ohm,
            nominal_voltage_V=pack.pack_nominal_voltage_V,
            energy_kWh=pack.pack_energy_Wh / 1000.0,
            mass_kg=pack.pack_mass_kg,
            thermal=None if section.thermal is None else ThermalView.model_validate(section.thermal.model_dump()),
            coolant=None if coolant is None else CoolantView.model_validate(coolant.model_dump()),
        )


class ParameterSetView(View):
    """One parameter set with its pack; ``grade`` is the weakest grade among its numbers."""

    cell: str
    title: str
    chemistry: str
    sha256: str
    grade: str
    modelled: tuple[str, ...]
    not_modelled: tuple[str, ...]
    caveats: tuple[str, ...]
    references: tuple[str, ...]
    provenance: tuple[ProvenanceView, ...]
    pack: PackView

    @property
    def withdrawn(self) -> str:
        """Why no new study may name it; empty where one may."""
        return WITHDRAWN.get(self.cell, "")


class ParameterSets(View):
    """The parameter sets that were used; null for a source that no strategy has."""

    battery: ParameterSetView | None
    ultracapacitor: ParameterSetView | None


def parameter_set(
    results: Sequence[SourceResult], cell: Cell | None, section: Battery | Ultracapacitor | None
) -> ParameterSetView | None:
    """The parameter set of one source, or None where no strategy has that source.

    Args:
        results: The source under every strategy that has it.
        cell: Its cell.
        section: Of the study.
    """
    if not results or cell is None or section is None:
        return None
    result = results[0]
    return ParameterSetView(
        cell=cell.id,
        title=cell.title,
        chemistry=cell.chemistry,
        sha256=result.cell_sha256,
        grade=result.grade,
        modelled=result.modelled,
        not_modelled=result.not_modelled,
        caveats=result.caveats,
        references=result.references,
        provenance=tuple(ProvenanceView.of(entry) for entry in result.provenance),
        pack=PackView.of(cell, section),
    )
