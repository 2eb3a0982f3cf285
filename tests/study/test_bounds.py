"""Every bound of every number in a study: the last value inside is taken, the first outside is refused at its place.

A key is renamed in one line of the table. A bound that is not in the table fails the last test.
"""

import math
from typing import get_args

import annotated_types
import pytest
from pydantic import BaseModel

from lifetime.study.schema import Study

# Ranges as mathematicians write them.
FRACTION, CELSIUS, EFFICIENCY = "[0, 1]", "[-60, 60]", "[0.01, 1]"
VOLTS, VOLTS_OR_ZERO, AMPERES, OHMS = "[1e-3, 1e6]", "[0, 1e6]", "[1e-6, 1e7]", "[1e-9, 1e6]"
AMPERE_HOURS, C_RATE, WATTS = "[1e-4, 1e5]", "[1e-4, 1e3]", "[0, 1e12]"
KELVIN_PER_WATT, JOULES_PER_KELVIN = "[1e-9, 1e4]", "[1e-3, 1e12]"
KILOGRAMS, SQUARE_METRES, KILOMETRES, MONEY = "[1e-3, 1e9]", "[0, 1e4]", "[0, 1e5]", "[0, 1e15]"

CIRCUIT = {"battery.open_circuit.soc": [0.0, 1.0], "battery.open_circuit.voltage_V": [3.0, 4.0]}
THERMAL = {"resistance_K_per_W": 0.1, "heat_capacity_J_per_K": 1e4}
PACK_THERMAL = {f"{pack}.thermal": THERMAL for pack in ("battery", "ultracapacitor")}
# Their product is a time constant of at least 1 s.
PACK_HEAVY = {f"{pack}.thermal": {**THERMAL, "heat_capacity_J_per_K": 1e12} for pack in ("battery", "ultracapacitor")}
PACK_INSULATED = {f"{pack}.thermal": {**THERMAL, "resistance_K_per_W": 1e4} for pack in ("battery", "ultracapacitor")}
CHARGED = {"service.day.charge_c_rate": 0.5, "service.day.charge_to_soc": 0.9}
CORNER = {"end_of_life.battery_power": {"soc": 0.2, "temperature_C": -10.0, "duration_s": 10.0}}
WHOLE_PACK = {f"{pack}.price": {"purchase": 1.0} for pack in ("battery", "ultracapacitor")}
MACHINE = {"machine": {"rated_power_W": 1e5, "copper_loss_fraction": 0.03}}
BY_CELL = {f"{pack}.price": {"purchase_per_cell": 1.0} for pack in ("battery", "ultracapacitor")}


def ends(bounds):
    """The last value inside and the first outside, at the lower and at the upper end."""
    lower, upper = (float(end) for end in bounds.strip("()[]").split(","))
    below, above = (lower, math.nextafter(lower, -math.inf)), (upper, math.nextafter(upper, math.inf))
    return [
        below if bounds[0] == "[" else (math.nextafter(lower, math.inf), lower),
        above if bounds[-1] == "]" else (math.nextafter(upper, -math.inf), upper),
    ]


def limits(way):
    """Every number of a table of currents, with what makes it a table of one step."""
    place = f"battery.limits.{way}"
    step = {f"{place}.temperature_C": [-30.0]}
    charge = {**step, f"{place}.soc": [0.0], f"{place}.soc_factor": [1.0]}
    yield f"{place}.temperature_C", "[-60, 100]", step, step
    for duration in ("continuous", "pulse_30s", "pulse_10s", "pulse_1s"):
        yield f"{place}.{duration}", "[0, 1e3]", step, step
    for key in ("soc", "soc_factor"):
        yield f"{place}.{key}", FRACTION, charge, charge


LIMITS = [*limits("discharge"), *limits("charge")]
# Key, range, and what else has to be in the study for the key to stand there at its lowest and at its highest value.
CHARGED_LATER = {**CHARGED, "service.day.drive_starts_at_hour": 6.0}
COOLED = {"battery.coolant": {"setpoint_C": 20.0, "resistance_K_per_W": 0.1, "heating_cop": 1.0}}
FLOATS = [
    ("service.years", "[0.01, 50]", {}, {}),
    ("service.working_days_per_year", "[0, 365]", {}, {}),
    ("service.distance_km_per_day", KILOMETRES, {}, {}),
    ("service.ambient_C", CELSIUS, {}, {}),
    ("service.day.charge_c_rate", C_RATE, CHARGED, CHARGED),
    ("service.day.charge_to_soc", FRACTION, CHARGED, CHARGED),
    ("service.day.drive_starts_at_hour", "[0, 24)", {}, {}),
    ("service.day.charge_ends_at_hour", "[0, 24)", CHARGED_LATER, CHARGED_LATER),
    ("battery.coolant.setpoint_C", CELSIUS, COOLED, COOLED),
    ("battery.coolant.resistance_K_per_W", KELVIN_PER_WATT, COOLED, COOLED),
    ("battery.coolant.heating_cop", "[0.1, 20]", COOLED, COOLED),
    ("battery.coolant.cooling_cop", "[0.1, 20]", COOLED, COOLED),
    ("battery.cell_capacity_Ah", AMPERE_HOURS, {}, {}),
    ("battery.start_soc", FRACTION, {}, {}),
    ("battery.minimum_soc", FRACTION, {}, {"battery.start_soc": 1.0}),
    ("battery.maximum_soc", FRACTION, {"battery.start_soc": 0.0}, {}),
    ("battery.minimum_voltage_V", VOLTS, {}, {}),
    ("battery.maximum_voltage_V", VOLTS, {}, {}),
    ("battery.resistance_ohm", OHMS, {}, {}),
    ("battery.resistance_per_calendar_loss", "[0, 5]", {}, {}),
    ("battery.resistance_per_cyclic_loss", "[0, 5]", {}, {}),
    ("battery.thermal.resistance_K_per_W", KELVIN_PER_WATT, PACK_HEAVY, PACK_THERMAL),
    ("battery.thermal.heat_capacity_J_per_K", JOULES_PER_KELVIN, PACK_INSULATED, PACK_THERMAL),
    ("battery.thermal.hot_spot_K", "[0, 40]", PACK_THERMAL, PACK_THERMAL),
    ("battery.open_circuit.soc", FRACTION, CIRCUIT, CIRCUIT),
    ("battery.open_circuit.voltage_V", VOLTS, CIRCUIT, CIRCUIT),
    ("battery.limits.inverter_power_W", WATTS, {}, {}),
    *LIMITS,
    ("battery.price.purchase", MONEY, WHOLE_PACK, WHOLE_PACK),
    ("battery.price.purchase_per_kWh", MONEY, {}, {}),
    ("battery.price.replacement_labour", MONEY, {}, {}),
    ("ultracapacitor.start_voltage_V", VOLTS, {"ultracapacitor.minimum_voltage_V": ends(VOLTS)[0][0]}, {}),
    (
        "ultracapacitor.minimum_voltage_V",
        VOLTS,
        {},
        {f"ultracapacitor.{end}_voltage_V": 1e6 for end in ("start", "maximum")},
    ),
    ("ultracapacitor.maximum_voltage_V", VOLTS, {}, {}),
    ("ultracapacitor.rest_voltage_V", VOLTS_OR_ZERO, {}, {}),
    ("ultracapacitor.maximum_current_A", AMPERES, {}, {}),
    ("ultracapacitor.thermal.resistance_K_per_W", KELVIN_PER_WATT, PACK_HEAVY, PACK_THERMAL),
    ("ultracapacitor.thermal.heat_capacity_J_per_K", JOULES_PER_KELVIN, PACK_INSULATED, PACK_THERMAL),
    ("ultracapacitor.thermal.hot_spot_K", "[0, 40]", PACK_THERMAL, PACK_THERMAL),
    ("ultracapacitor.price.purchase", MONEY, WHOLE_PACK, WHOLE_PACK),
    ("ultracapacitor.price.purchase_per_farad_cell", MONEY, {}, {}),
    ("ultracapacitor.price.replacement_labour", MONEY, {}, {}),
    *(
        row
        for pack in ("battery", "ultracapacitor")
        for row in (
            (f"{pack}.price.purchase_per_cell", MONEY, BY_CELL, BY_CELL),
            (f"{pack}.price.price_decline_fraction_per_year", "[0, 0.5]", {}, {}),
            (f"{pack}.price.second_life_fraction", FRACTION, {}, {}),
            (f"{pack}.price.replacement_downtime_days", "[0, 365]", {}, {}),
        )
    ),
    ("ultracapacitor.esr_rate_ratio", "[0.5, 5]", {}, {}),
    ("ultracapacitor.rms_current_coefficient_per_A", "[0, 0.1]", {}, {}),
    ("ultracapacitor.initial_surplus_fraction", "[0, 0.2]", {}, {}),
    ("ultracapacitor.capacitance_deviation_fraction", "[0, 0.1]", {}, {}),
    ("ultracapacitor.refill_efficiency", EFFICIENCY, {}, {}),
    ("ultracapacitor.standby_W", WATTS, {}, {}),
    ("service.day.charger_efficiency", EFFICIENCY, {}, {}),
    ("cost.downtime_per_day", MONEY, {}, {}),
    ("vehicle.mass_kg", KILOGRAMS, {}, {}),
    ("vehicle.rolling_resistance", "[0, 0.2]", {}, {}),
    ("vehicle.drag_area_m2", SQUARE_METRES, {}, {}),
    ("vehicle.rotating_mass_fraction", FRACTION, {}, {}),
    ("vehicle.drive_efficiency", EFFICIENCY, {}, {}),
    ("vehicle.recuperation_fraction", FRACTION, {}, {}),
    ("vehicle.auxiliary_W", WATTS, {}, {}),
    ("machine.rated_power_W", "[1e-3, 1e12]", MACHINE, MACHINE),
    ("machine.copper_loss_fraction", "[0, 0.3]", MACHINE, MACHINE),
    ("machine.ultracapacitor_resistance_ratio", "[0.01, 100]", MACHINE, MACHINE),
    ("end_of_life.battery_capacity", "(0.2, 1)", {}, {}),
    ("end_of_life.battery_resistance", "(1, 10]", {}, {}),
    ("end_of_life.battery_power.soc", FRACTION, CORNER, CORNER),
    ("end_of_life.battery_power.temperature_C", CELSIUS, CORNER, CORNER),
    ("end_of_life.battery_power.duration_s", "[0.1, 300]", CORNER, CORNER),
    ("end_of_life.ultracapacitor_capacitance", "(0.2, 1)", {}, {}),
    ("end_of_life.ultracapacitor_esr", "(1, 10]", {}, {}),
    ("end_of_life.battery_longest_life_years", "[1, 50]", {}, {}),
    ("end_of_life.ultracapacitor_longest_life_years", "[1, 50]", {}, {}),
    ("counting.smallest_battery_depth_of_discharge", "[0, 0.2]", {}, {}),
    ("counting.half_weight_depth_of_discharge", "[0.001, 0.1]", {}, {}),
    ("counting.averaging_s", "[0, 60]", {}, {}),
    ("counting.dead_band_c_rate", "[0, 0.1]", {}, {}),
    ("cost.discount_rate", "[0, 1]", {}, {}),
    ("cost.electricity_per_kWh", MONEY, {}, {}),
]
WHOLES = [
    ("service.day.drive_repeats", 1, 1000),
    ("battery.series", 1, 100_000),
    ("battery.parallel", 1, 100_000),
    ("ultracapacitor.series", 1, 100_000),
    ("ultracapacitor.parallel", 1, 100_000),
]
TEXTS = [("title", 300), ("cost.currency", 12), ("strategy[1].name", 120)]
LISTS = {"battery.open_circuit.soc", "battery.open_circuit.voltage_V"}
STEPS = {row[0] for row in LIMITS}
"""Lists of one step."""


def listed(key, value):
    """The value as its key takes it."""
    if key in STEPS:
        return [value]
    return [value, value] if key in LISTS else value


CASES = [
    pytest.param(key, pair, beside, id=f"{key}-{end}")
    for key, bounds, *besides in FLOATS
    for end, pair, beside in zip(("lowest", "highest"), ends(bounds), besides, strict=True)
]


@pytest.mark.parametrize(("key", "pair", "beside"), CASES)
def test_a_number_at_its_bound(faults, key, pair, beside):
    inside, outside = (listed(key, value) for value in pair)
    assert faults({**beside, key: inside}) == {}
    found = faults({**beside, key: outside})
    assert found, f"{outside!r} was taken"
    assert all(place == key or place.startswith(f"{key}[") for place in found)


@pytest.mark.parametrize(("key", "low", "high"), WHOLES)
def test_a_count_at_its_bounds(faults, key, low, high):
    assert faults({key: low}) == faults({key: high}) == {}
    for wrong in (low - 1, high + 1, 1.5, True, "2"):
        assert list(faults({key: wrong})) == [key], f"{wrong!r} was taken"


@pytest.mark.parametrize(("key", "longest"), TEXTS)
def test_a_text_at_its_lengths(faults, key, longest):
    assert faults({key: "x"}) == faults({key: "x" * longest}) == {}
    for wrong in ("", "x" * (longest + 1), 7):
        assert list(faults({key: wrong})) == [key], f"{wrong!r} was taken"


@pytest.mark.parametrize(("key", "bounds", "beside", "_"), FLOATS, ids=[row[0] for row in FLOATS])
@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf, "1", True], ids=repr)
def test_what_is_no_finite_number_is_refused(faults, key, bounds, beside, _, wrong):
    found = faults({**beside, key: listed(key, wrong)})
    assert found, f"{wrong!r} was taken"
    assert all(place == key or place.startswith(f"{key}[") for place in found)


def bounded(model, path=""):
    """Every key whose numbers or texts have a bound, through all sections but the strategies."""
    for key, field in model.model_fields.items():
        place = f"{path}{key}"
        inner = [one for one in walk(field.annotation) if isinstance(one, type) and issubclass(one, BaseModel)]
        if inner and place != "strategy":
            yield from bounded(inner[0], f"{place}.")
        elif any(isinstance(one, BOUNDS) for one in (*metadata(field.annotation), *flat(field.metadata))):
            yield place


BOUNDS = tuple(getattr(annotated_types, name) for name in ("Ge", "Gt", "Le", "Lt", "MinLen", "MaxLen"))


def walk(annotation):
    yield annotation
    for one in get_args(annotation):
        yield from walk(one)


def metadata(annotation):
    return flat(one for part in walk(annotation) for one in getattr(part, "__metadata__", ()))


def flat(found):
    return [inner for one in found for inner in (one, *getattr(one, "metadata", ()))]


def test_every_bound_is_in_the_tables():
    named = {row[0] for row in (*FLOATS, *WHOLES, *TEXTS)}
    declared = {key for key in bounded(Study) if not key.startswith("strategy")}
    assert declared == {key for key in named if not key.startswith("strategy")}
