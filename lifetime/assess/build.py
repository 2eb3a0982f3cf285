"""From the study's sections to the sources, the bank and the charging that the core works with."""

from dataclasses import replace

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.ageing.ultracapacitor import UltracapacitorLaw
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR
from lifetime.packs.cell import Cell
from lifetime.packs.pack import Pack
from lifetime.split.bank import Bank, Pull
from lifetime.split.vehicle import Vehicle
from lifetime.stress.day import Charging
from lifetime.stress.source import Source, Thermal
from lifetime.study.duty import Day, Service
from lifetime.study.schema import Study
from lifetime.study.sections import Battery, ThermalPath, Ultracapacitor


def battery_source(section: Battery, cell: Cell, day: Day) -> Source:
    """The battery pack as the trace sees it."""
    pack = Pack(cell, section.series, section.parallel)

    def open_circuit(soc: FloatArray) -> FloatArray:
        return section.series * cell.open_circuit(soc)

    return Source(
        kind="battery",
        capacity_As=pack.pack_capacity_Ah * SECONDS_PER_HOUR,
        resistance_ohm=section.resistance_ohm or pack.pack_resistance_ohm,
        start_soc=section.start_soc,
        rest_soc=day.charge_to_soc,
        open_circuit_V=open_circuit,
        minimum_voltage_V=section.minimum_voltage_V or pack.pack_minimum_voltage_V,
        maximum_voltage_V=section.maximum_voltage_V or pack.pack_maximum_voltage_V,
        minimum_soc=section.minimum_soc,
        maximum_soc=section.maximum_soc,
        thermal=_thermal(section.thermal),
        hot_spot_K=section.thermal.hot_spot_K if section.thermal else 0.0,
        parallel=section.parallel,
        series=section.series,
    )


def vehicle(study: Study) -> Vehicle | None:
    """The vehicle that turns a speed into a power, or None."""
    return None if study.vehicle is None else Vehicle(**study.vehicle.model_dump())


def battery_charging(section: Battery, cell: Cell, service: Service) -> Charging:
    """How the battery is charged after the drive; the C-rate is that of the rated capacity."""
    day = service.day
    if service.histories_cover == "everything":
        return Charging(None, section.start_soc, whole_log=True)
    if day.charge_c_rate is None or day.charge_to_soc is None:
        return Charging(None, section.start_soc)
    return Charging(day.charge_c_rate * cell.rated_capacity_Ah * section.parallel, day.charge_to_soc)


def bank_source(section: Ultracapacitor, cell: Cell) -> Source:
    """The ultracapacitor bank as the trace sees it; its state of charge is V / V_rated."""
    pack = Pack(cell, section.series, section.parallel)
    rated = cell.maximum_voltage_V * section.series

    def open_circuit(soc: FloatArray) -> FloatArray:
        return np.asarray(soc * rated)

    highest = section.maximum_voltage_V or rated
    return Source(
        kind="ultracapacitor",
        capacity_As=cell.rated_capacity_Ah * section.parallel * SECONDS_PER_HOUR,
        resistance_ohm=pack.pack_resistance_ohm,
        start_soc=section.start_voltage_V / rated,
        rest_soc=section.rest_voltage_V / rated,
        open_circuit_V=open_circuit,
        minimum_voltage_V=section.minimum_voltage_V,
        maximum_voltage_V=highest,
        minimum_soc=section.minimum_voltage_V / rated,
        maximum_soc=highest / rated,
        thermal=_thermal(section.thermal),
        hot_spot_K=section.thermal.hot_spot_K if section.thermal else 0.0,
        parallel=section.parallel,
        series=section.series,
    )


def split_bank(section: Ultracapacitor, cell: Cell, pull: Pull | None) -> Bank:
    """The bank as the split sees it; without a stated current limit the cells' peak current is the limit."""
    pack = Pack(cell, section.series, section.parallel)
    rated = cell.maximum_voltage_V * section.series
    capacitance = (cell.capacitance_F or 0.0) * section.parallel / section.series
    limit = section.maximum_current_A or pack.pack_maximum_current_A
    return Bank(
        capacitance_F=capacitance,
        resistance_ohm=pack.pack_resistance_ohm,
        minimum_voltage_V=section.minimum_voltage_V,
        maximum_voltage_V=section.maximum_voltage_V or rated,
        maximum_current_A=limit if limit is not None else float("inf"),
        pull=pull,
    )


def bank_law(section: Ultracapacitor, cell: Cell) -> AgeingLaw:
    """The cell's law, with the fade shape the study asks for."""
    if section.fade_shape is not None and isinstance(cell.law, UltracapacitorLaw):
        return replace(cell.law, shape=section.fade_shape)
    return cell.law


def battery_purchase(section: Battery, cell: Cell) -> float:
    """Price of the whole pack [currency]."""
    if section.price.purchase is not None:
        return section.price.purchase
    energy_kWh = Pack(cell, section.series, section.parallel).pack_energy_Wh / 1000.0
    return (section.price.purchase_per_kWh or 0.0) * energy_kWh


def bank_purchase(section: Ultracapacitor, cell: Cell) -> float:
    """Price of the whole bank [currency]."""
    if section.price.purchase is not None:
        return section.price.purchase
    farads = (cell.capacitance_F or 0.0) * section.series * section.parallel
    return (section.price.purchase_per_farad_cell or 0.0) * farads


def _thermal(section: ThermalPath | None) -> Thermal | None:
    if section is None:
        return None
    return Thermal(section.resistance_K_per_W, section.heat_capacity_J_per_K)
