"""From the sections of a study to its setups: each source, the drivetrain and its operation, made once."""

from dataclasses import replace
from typing import Any

import numpy as np

from lifetime.ageing.cell_spread import CellSpread
from lifetime.ageing.contract import AgeingLaw
from lifetime.ageing.ultracapacitor import UltracapacitorLaw
from lifetime.assessment.demands import Demands
from lifetime.assessment.load_table import LoadTable
from lifetime.assessment.setups import (
    Drivetrain,
    HealthLimits,
    Operation,
    SourcePrice,
    SourceSetup,
    StudySetup,
    UltracapacitorSetup,
)
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR, ZERO_CELSIUS_K
from lifetime.packs.cell import Cell
from lifetime.packs.load import with_resistance_growth
from lifetime.packs.pack import Pack
from lifetime.split.bank import Bank
from lifetime.split.vehicle import Vehicle
from lifetime.split.windings import TwoWindings
from lifetime.stress.charging import Charging
from lifetime.stress.coolant import Coolant
from lifetime.stress.source import Source, Thermal
from lifetime.study.duty import Service
from lifetime.study.evaluation import Counting, EndOfLife
from lifetime.study.heat import CoolantSection, ThermalPath
from lifetime.study.load import LoadedStudy
from lifetime.study.prices import BatteryPrice, UltracapacitorPrice
from lifetime.study.schema import Study
from lifetime.study.sections import Battery, Ultracapacitor


def resolve_setups(loaded: LoadedStudy) -> StudySetup:
    """Set up everything that the strategies of a study have in common.

    Args:
        loaded: The study with everything it names.
    """
    study = loaded.study
    bank = None
    if study.ultracapacitor is not None and loaded.ultracapacitor is not None:
        bank = ultracapacitor_setup(study.ultracapacitor, loaded.ultracapacitor, study.end_of_life, study.service)
    service = study.service
    battery = battery_setup(study.battery, loaded.battery, study.end_of_life, service, study.counting)
    return StudySetup(
        loaded=loaded,
        drivetrain=Drivetrain(battery, bank),
        operation=Operation(
            service.years,
            loaded.ambient_K,
            service.day.drive_repeats,
            service.runs_per_year,
            service.day.charger_efficiency,
            service.day.drive_starts_at_hour,
        ),
        demands=Demands(loaded.histories, _vehicle(study), _windings(study)),
    )


def battery_setup(section: Battery, cell: Cell, limits: EndOfLife, service: Service, counting: Counting) -> SourceSetup:
    """A battery as its section describes it.

    Args:
        section: The section.
        cell: Parameter set of its cell.
        limits: State of health at end of life.
        service: How it is charged, and whether histories contain everything.
        counting: How its cycles are counted.
    """
    section = section.of_pack()
    cell = with_resistance_growth(cell, section.resistance_per_calendar_loss, section.resistance_per_cyclic_loss)
    pack = Pack(cell, section.series, section.parallel)
    purchase = section.price.of_pack(pack.pack_energy_Wh / 1000.0, section.series * section.parallel)
    return SourceSetup(
        kind="battery",
        cell=cell,
        source=_battery_source(section, pack, service),
        model=cell.law,
        limits=HealthLimits(limits.battery_capacity, limits.battery_resistance),
        charging=_battery_charging(section, pack, service),
        price=_price(section.price, purchase),
        smallest_cycle_soc=counting.smallest_battery_depth_of_discharge,
        counting=counting.convention(),
        load=_load_table(section, pack),
        longest_life_years=limits.battery_longest_life_years,
        power_corner=None if limits.battery_power is None else limits.battery_power.corner(),
    )


def ultracapacitor_setup(
    section: Ultracapacitor, cell: Cell, limits: EndOfLife, service: Service
) -> UltracapacitorSetup:
    """An ultracapacitor bank as its section describes it; nothing charges it after the drive.

    Args:
        section: The section.
        cell: Parameter set of its cell.
        limits: State of health at end of life.
        service: Whether histories contain everything.
    """
    by_cell, section = section.voltages_of == "cell", section.of_bank()
    surplus = section.initial_surplus_fraction
    pack = Pack(_delivered(cell, surplus), section.series, section.parallel)
    purchase = section.price.of_bank(cell.capacitance_F or 0.0, section.series * section.parallel)
    return UltracapacitorSetup(
        kind="ultracapacitor",
        cell=cell,
        source=_ultracapacitor_source(section, pack),
        model=_ultracapacitor_model(section, cell),
        # Health is counted from the initial capacitance, the limit from the rated one.
        limits=HealthLimits(limits.ultracapacitor_capacitance / (1.0 + surplus), limits.ultracapacitor_esr),
        charging=Charging(None, 0.0, whole_log=service.histories_cover == "everything"),
        price=_price(section.price, purchase),
        bank=_bank(section, pack),
        start_voltage_V=section.start_voltage_V,
        rest_voltage_V=section.rest_voltage_V,
        voltages_of_cell=by_cell,
        balance_at_charger=section.balance_at_charger,
        longest_life_years=limits.ultracapacitor_longest_life_years,
        refill_efficiency=section.refill_efficiency,
        returns_energy=section.energy_at_rest == "returned",
        standby_W=section.standby_W,
        initial_surplus_fraction=surplus,
    )


def _price(section: BatteryPrice | UltracapacitorPrice, purchase: float) -> SourcePrice:
    return SourcePrice(
        purchase,
        section.replacement_labour,
        section.price_decline_fraction_per_year,
        section.second_life_fraction,
        section.replacement_downtime_days,
    )


def _vehicle(study: Study) -> Vehicle | None:
    """The vehicle that turns a speed into a power, or None."""
    return None if study.vehicle is None else Vehicle(**study.vehicle.model_dump())


def _windings(study: Study) -> TwoWindings | None:
    """The winding sets of the machine, or None."""
    machine = study.machine
    if machine is None or machine.copper_loss_fraction == 0.0:
        return None
    return TwoWindings(machine.rated_power_W, machine.copper_loss_fraction, machine.ultracapacitor_resistance_ratio)


def _battery_source(section: Battery, pack: Pack, service: Service) -> Source:
    def open_circuit(soc: FloatArray) -> FloatArray:
        return section.series * pack.cell.open_circuit(soc)

    return Source(
        kind="battery",
        capacity_As=pack.pack_capacity_Ah * SECONDS_PER_HOUR,
        resistance_ohm=section.resistance_ohm or pack.pack_resistance_ohm,
        start_soc=section.start_soc,
        rest_soc=service.day.charge_to_soc,
        open_circuit_V=open_circuit,
        minimum_voltage_V=section.minimum_voltage_V or pack.pack_minimum_voltage_V,
        maximum_voltage_V=section.maximum_voltage_V or pack.pack_maximum_voltage_V,
        minimum_soc=section.minimum_soc,
        maximum_soc=section.maximum_soc,
        thermal=_thermal(section.thermal),
        hot_spot_K=section.thermal.hot_spot_K if section.thermal else 0.0,
        parallel=section.parallel,
        series=section.series,
        keeps_soc_limits=service.cycling_between == "states_of_charge",
        shape=pack.cell.resistance_shape,
        coolant=_coolant(section.coolant),
    )


def _load_table(section: Battery, pack: Pack) -> LoadTable:
    """What the pack may be loaded with: the study's tables in place of the cell's, within the makers' maximum."""
    cell, own = pack.cell, section.limits
    discharge = None if own is None or own.discharge is None else own.discharge.table()
    charge = None if own is None or own.charge is None else own.charge.table()
    continuous = cell.continuous_current_A
    return LoadTable(
        capacity_Ah=pack.pack_capacity_Ah,
        peak_A=pack.pack_maximum_current_A,
        continuous_A=None if continuous is None else continuous * section.parallel,
        discharge=discharge or cell.discharge_limits,
        charge=charge or cell.charge_limits,
        minimum_voltage_V=section.minimum_voltage_V or pack.pack_minimum_voltage_V,
        maximum_voltage_V=section.maximum_voltage_V or pack.pack_maximum_voltage_V,
        maximum_soc=section.maximum_soc,
        power_W=None if own is None else own.inverter_power_W,
    )


def _battery_charging(section: Battery, pack: Pack, service: Service) -> Charging:
    """How the battery is charged after the drive; the C-rate is that of the rated capacity, within the peak current."""
    day = service.day
    if service.histories_cover == "everything":
        return Charging(None, section.start_soc, whole_log=True)
    if day.charge_c_rate is None or day.charge_to_soc is None:
        return Charging(None, section.start_soc)
    asked_A, most_A = day.charge_c_rate * pack.pack_capacity_Ah, pack.pack_maximum_current_A
    if most_A is not None and asked_A > most_A:
        return Charging(most_A, day.charge_to_soc, asked_A=asked_A, ends_after_s=day.charge_ends_after_s)
    return Charging(asked_A, day.charge_to_soc, ends_after_s=day.charge_ends_after_s)


def _ultracapacitor_source(section: Ultracapacitor, pack: Pack) -> Source:
    """The bank as the trace sees it; its state of charge is V / V_rated."""
    rated = pack.pack_maximum_voltage_V

    def open_circuit(soc: FloatArray) -> FloatArray:
        return np.asarray(soc * rated)

    highest = section.maximum_voltage_V or rated
    return Source(
        kind="ultracapacitor",
        capacity_As=pack.pack_capacity_Ah * SECONDS_PER_HOUR,
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


def _bank(section: Ultracapacitor, pack: Pack) -> Bank:
    """The bank as a power split sees it; without a stated current limit the cells' peak current is the limit."""
    limit = section.maximum_current_A or pack.pack_maximum_current_A
    return Bank(
        capacitance_F=pack.pack_capacitance_F or 0.0,
        resistance_ohm=pack.pack_resistance_ohm,
        minimum_voltage_V=section.minimum_voltage_V,
        maximum_voltage_V=section.maximum_voltage_V or pack.pack_maximum_voltage_V,
        maximum_current_A=limit if limit is not None else float("inf"),
    )


def _delivered(cell: Cell, surplus: float) -> Cell:
    """The cell with the capacitance it is delivered with, above the rated one."""
    if surplus == 0.0 or cell.capacitance_F is None:
        return cell
    more = 1.0 + surplus
    return replace(cell, capacitance_F=cell.capacitance_F * more, rated_capacity_Ah=cell.rated_capacity_Ah * more)


def _ultracapacitor_model(section: Ultracapacitor, cell: Cell) -> AgeingLaw:
    """The ageing model of the cell, with the numbers that the study gives, for the weakest cell of the bank."""
    model = cell.law
    if not isinstance(model, UltracapacitorLaw):
        return model
    given: dict[str, Any] = {
        "shape": section.fade_shape,
        "esr_rate_ratio": section.esr_rate_ratio,
        "rms_current_coefficient_per_A": section.rms_current_coefficient_per_A,
    }
    model = replace(model, **{key: value for key, value in given.items() if value is not None})
    if section.capacitance_deviation_fraction > 0.0:
        spread = CellSpread(
            section.capacitance_deviation_fraction,
            section.series * section.parallel,
            section.balancing,
            0.5 * cell.maximum_voltage_V,
        )
        model = replace(model, spread=spread)
    return model


def _coolant(section: CoolantSection | None) -> Coolant | None:
    if section is None:
        return None
    return Coolant(
        section.setpoint_C + ZERO_CELSIUS_K, section.resistance_K_per_W, section.heating_cop, section.cooling_cop
    )


def _thermal(section: ThermalPath | None) -> Thermal | None:
    if section is None:
        return None
    return Thermal(section.resistance_K_per_W, section.heat_capacity_J_per_K)
