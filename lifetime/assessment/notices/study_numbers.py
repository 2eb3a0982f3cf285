"""What is said where numbers of a study do not suit each other, as where a unit is off by a factor of a thousand."""

from typing import Final

import numpy as np

from lifetime.assessment.setups import SourceSetup, StudySetup
from lifetime.constants import METRES_PER_KM, SECONDS_PER_HOUR, ZERO_CELSIUS_K
from lifetime.notices import Notice
from lifetime.packs.climate import is_hourly, monthly_means_K
from lifetime.packs.pack import Pack
from lifetime.study.schema import Study
from lifetime.text import significant

LARGEST_CELL_AH: Final = 1000.0
LARGEST_RESIZE: Final = 200.0
"""Capacity of the largest cells sold, and of a cell over that of the cell its parameter set was measured on."""
RESISTANCE_RATIO: Final = 10.0
"""A pack's stated resistance over that of its cells, or the other way round."""
VOLTAGE_RATIO: Final = 1.5
"""An open-circuit voltage or a bound beyond the cell's own limits by this factor is another unit's, or the pack's."""
HEAT_CAPACITY_J_PER_KG_K: Final = (50.0, 20_000.0)
"""Heat capacity over the mass of the cells alone; cells have about 1000 J/(kg K), and structure adds to it."""
PRICE_RATIO: Final = (40.0, 20_000.0)
"""Price of the battery over that of electricity, both per kWh; some hundreds to some thousands are usual."""
HOTTEST_MONTH_C: Final = 45.0
"""Monthly mean air temperature that no inhabited place reaches."""
HIGHEST_SPEED_M_S: Final = 70.0
"""252 km/h."""
HIGHEST_MEAN_SPEED_KM_H: Final = 150.0
"""Mean speed over a day's drive. All of these are common practice, no source."""


def study_notices(setup: StudySetup) -> list[Notice]:
    """Warn of numbers of a study that do not suit each other.

    Args:
        setup: The study.
    """
    study, battery, bank = setup.loaded.study, setup.drivetrain.battery, setup.drivetrain.ultracapacitor
    notices = [*_capacity(setup), *_resistance(study, battery), *_voltages(study, battery)]
    for source in (battery, *(() if bank is None else (bank,))):
        notices += _heat_capacity(source)
    return [
        *notices,
        *_prices(study, battery),
        *_ambient(setup),
        *_unused_hour(setup),
        *_distance(setup),
        *_mass(study, battery),
        *_speed(setup),
    ]


def _warning(what: str, message: str) -> Notice:
    return Notice(f"implausible_{what}", message)


def _pack(source: SourceSetup) -> Pack:
    return Pack(source.cell, source.source.series, source.source.parallel)


def _capacity(setup: StudySetup) -> list[Notice]:
    stated_Ah = setup.loaded.study.battery.cell_capacity_Ah
    if stated_Ah is None:
        return []
    own_Ah = next((one.value for one in setup.loaded.battery.provenance if one.key == "cell.capacity_Ah"), None)
    is_resized = isinstance(own_Ah, float | int) and not 1.0 / LARGEST_RESIZE <= stated_Ah / own_Ah <= LARGEST_RESIZE
    if stated_Ah <= LARGEST_CELL_AH and not is_resized:
        return []
    message = (
        f"battery.cell_capacity_Ah = {stated_Ah:g} makes one cell of {significant(stated_Ah)} Ah from a parameter set "
        f"measured on {own_Ah:g} Ah. Give the capacity of one cell in Ah: 2.05, not 2050 for 2050 mAh."
    )
    return [_warning("capacity", message)]


def _resistance(study: Study, battery: SourceSetup) -> list[Notice]:
    stated, of_cells = study.battery.resistance_ohm, _pack(battery).pack_resistance_ohm
    if stated is None or 1.0 / RESISTANCE_RATIO <= stated / of_cells <= RESISTANCE_RATIO:
        return []
    message = (
        f"battery.resistance_ohm = {stated:g} is {significant(stated / of_cells)} times the {significant(of_cells)} "
        "ohm of the pack's cells: heat and voltage follow the stated one. Give that of the whole pack, in ohm and not "
        "in milliohm."
    )
    return [_warning("resistance", message)]


def _voltages(study: Study, battery: SourceSetup) -> list[Notice]:
    cell, section, notices = battery.cell, study.battery, []
    if section.open_circuit is not None:
        lowest, highest = min(section.open_circuit.voltage_V), max(section.open_circuit.voltage_V)
        if highest > VOLTAGE_RATIO * cell.maximum_voltage_V or lowest < cell.minimum_voltage_V / VOLTAGE_RATIO:
            message = (
                f"battery.open_circuit runs from {lowest:g} to {highest:g} V, and the cell's limits are "
                f"{cell.minimum_voltage_V:g} to {cell.maximum_voltage_V:g} V. Give the voltage of one cell, in V."
            )
            notices.append(_warning("open_circuit", message))
    by_cell = section.voltages_of == "cell"
    pack = Pack(cell, 1, 1) if by_cell else _pack(battery)
    bounds = {
        "minimum_voltage_V": (section.minimum_voltage_V, pack.pack_minimum_voltage_V),
        "maximum_voltage_V": (section.maximum_voltage_V, pack.pack_maximum_voltage_V),
    }
    for key, (stated, of_cells) in bounds.items():
        if stated is not None and of_cells > 0.0 and not 1.0 / VOLTAGE_RATIO <= stated / of_cells <= VOLTAGE_RATIO:
            whose = "a cell has" if by_cell else f"{section.series} cells in series have"
            what_to_do = (
                'Give the voltage of one cell, or voltages_of = "pack".'
                if by_cell
                else "Give the voltage of the whole pack, or correct battery.series."
            )
            message = f"battery.{key} = {stated:g} V, and {whose} {significant(of_cells)} V as that limit. {what_to_do}"
            notices.append(_warning("voltage_bound", message))
    return notices


def _heat_capacity(source: SourceSetup) -> list[Notice]:
    thermal, mass_kg = source.source.thermal, _pack(source).pack_mass_kg
    if thermal is None or mass_kg is None:
        return []
    specific = thermal.heat_capacity_J_per_K / mass_kg
    low, high = HEAT_CAPACITY_J_PER_KG_K
    if low <= specific <= high:
        return []
    message = (
        f"{source.kind}.thermal.heat_capacity_J_per_K = {thermal.heat_capacity_J_per_K:g} is {significant(specific)} "
        f"J/(kg K) for {significant(mass_kg)} kg of cells, which have about 1000 J/(kg K). Give it in J/K for the "
        "whole pack."
    )
    return [_warning("heat_capacity", message)]


def _prices(study: Study, battery: SourceSetup) -> list[Notice]:
    electricity = study.cost.electricity_per_kWh
    per_kWh = 1000.0 * battery.price.purchase / _pack(battery).pack_energy_Wh
    if electricity <= 0.0 or per_kWh <= 0.0 or PRICE_RATIO[0] <= per_kWh / electricity <= PRICE_RATIO[1]:
        return []
    message = (
        f"The battery costs {significant(per_kWh)} {study.cost.currency} per kWh of rated energy and electricity "
        f"{significant(electricity)} {study.cost.currency} per kWh. Usual are some hundreds to some thousands of times "
        "as much for the battery: check cost.electricity_per_kWh (not per MWh) and battery.price (of the whole pack, "
        "or per kWh)."
    )
    return [_warning("prices", message)]


def _ambient(setup: StudySetup) -> list[Notice]:
    hottest_C = float(monthly_means_K(setup.loaded.ambient_K).max()) - ZERO_CELSIUS_K
    if hottest_C <= HOTTEST_MONTH_C:
        return []
    message = (
        f"service.ambient_C has a month of {significant(hottest_C)} °C on average, which no inhabited place has. Give "
        "it in degrees Celsius, as the air around the pack."
    )
    return [_warning("ambient", message)]


def _unused_hour(setup: StudySetup) -> list[Notice]:
    day = setup.loaded.study.service.day
    used = is_hourly(setup.loaded.ambient_K) or day.charge_ends_at_hour is not None
    if day.drive_starts_at_hour is None or used:
        return []
    message = (
        f"service.day.drive_starts_at_hour = {day.drive_starts_at_hour:g} changes nothing: the climate has no hours, "
        "and no hour is stated for charging. Give an hourly weather file or charge_ends_at_hour, or leave it out."
    )
    return [Notice("hour_not_used", message, "note")]


def _distance(setup: StudySetup) -> list[Notice]:
    service, histories = setup.loaded.study.service, setup.loaded.histories
    stated_km = service.distance_km_per_day
    if stated_km is None or not histories or service.histories_cover == "everything":
        return []
    driven_h = max(one.duration_s for one in histories.values()) * service.day.drive_repeats / SECONDS_PER_HOUR
    if stated_km <= HIGHEST_MEAN_SPEED_KM_H * driven_h:
        return []
    message = (
        f"service.distance_km_per_day = {stated_km:g} in {significant(driven_h)} h of driving is "
        f"{significant(stated_km / driven_h)} km/h on average: the cost per km is too low. Give it in km, not in m "
        f"({significant(stated_km / METRES_PER_KM)} km?), or correct service.day.drive_repeats or the history's time."
    )
    return [_warning("distance", message)]


def _mass(study: Study, battery: SourceSetup) -> list[Notice]:
    cells_kg = _pack(battery).pack_mass_kg
    if study.vehicle is None or cells_kg is None or study.vehicle.mass_kg > cells_kg:
        return []
    message = (
        f"vehicle.mass_kg = {study.vehicle.mass_kg:g} is less than the {significant(cells_kg)} kg of the battery's "
        "cells alone. Give the mass of the loaded vehicle in kg, not in t."
    )
    return [_warning("vehicle_mass", message)]


def _speed(setup: StudySetup) -> list[Notice]:
    for strategy in setup.loaded.study.strategy:
        speed = None if strategy.demand is None else setup.demands.of(strategy.demand).speed_m_s
        highest = 0.0 if speed is None else float(np.abs(speed).max())
        if highest > HIGHEST_SPEED_M_S:
            message = (
                f"The highest speed of a demand is {highest:.3g} m/s ({3.6 * highest:.3g} km/h), more than a road "
                "vehicle drives. Check speed_unit: km/h may have been read as m/s."
            )
            return [_warning("speed", message)]
    return []
