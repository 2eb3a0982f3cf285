"""What a result rests on, in words: the service and duty, the pack, the assumptions."""

from collections.abc import Mapping
from typing import Any

from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.report.words import PARTS, printable

Row = tuple[str, str]

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def service_facts(document: Mapping[str, Any], detail: Mapping[str, Any]) -> list[Row]:
    """How long and how hard the vehicle works.

    Args:
        document: The result document.
        detail: The detail document.
    """
    service = detail["service"]
    whole = service.get("histories_cover") == "everything"
    days = "whole logs, scaled to a year" if whole else f"{service['working_days_per_year']:g} working days"
    rows = [("Service life", f"{service['years']:g} years of {days}")]
    if service["distance_km_per_day"] is not None:
        rows.append(("Distance", f"{service['distance_km_per_day']:g} km a working day"))
    trips = [one["trip"] for one in document["strategies"]]
    hours = _span([trip["driving_s_per_day"] / 3600.0 for trip in trips], "h")
    energy = _span([trip["energy_kWh_per_day"] for trip in trips], "kWh")
    repeats = service["drive_repeats"]
    times = f"; the histories are driven {repeats} times a day" if repeats > 1 else ""
    rows.append(("Driving", f"{hours} a working day, {energy} net at the bus{times}"))
    if service["charge_c_rate"] is None:
        rows.append(("Charging", "none from outside"))
    else:
        to_soc = 100.0 * service["charge_to_soc"]
        rows.append(("Charging", f"after the drive at {service['charge_c_rate']:g} C to {to_soc:g} % state of charge"))
    rows.append(("Climate", _climate(service)))
    return rows


def pack_facts(detail: Mapping[str, Any]) -> list[Row]:
    """What the battery and the bank are made of.

    Args:
        detail: The detail document.
    """
    rows = []
    for part, one in detail["sets"].items():
        if one is None:
            continue
        pack = one["pack"]
        words = [f"{one['title']}, {pack['series']} in series, {pack['parallel']} in parallel"]
        if pack["capacitance_F"] is None:
            words.append(f"{pack['capacity_Ah']:.4g} Ah")
        else:
            words.append(f"{pack['capacitance_F']:.4g} F")
        words.append(f"{pack['nominal_voltage_V']:.4g} V, {pack['energy_kWh']:.3g} kWh")
        words.append(f"{1000.0 * pack['resistance_ohm']:.3g} mΩ by the cells")
        if pack["mass_kg"] is not None:
            words.append(f"{pack['mass_kg']:.3g} kg of cells")
        rows.append((PARTS[part], "; ".join(words)))
    return rows


def assumption_rows(detail: Mapping[str, Any]) -> list[Row]:
    """Every rule and choice that decides the numbers.

    Args:
        detail: The detail document.
    """
    threshold = detail["counting"]["smallest_battery_cycle_soc"]
    small = (
        "every cycle counts, however small"
        if threshold <= 0.0
        else f"battery cycles of {100.0 * threshold:g} % depth or less are left out; their weight is stated"
    )
    rows = [
        (
            "Counting",
            f"rainflow after ASTM E1049; each working day is a repeating history (5.4.5), so all cycles close; {small}",
        )
    ]
    rows += [(f"Samples of {printable(one['name'])}", _history(one)) for one in detail["histories"]]
    rows += [(f"Heat, {PARTS[part].lower()}", _thermal(detail, part)) for part, one in detail["sets"].items() if one]
    rows += [
        ("Seasons", "each month's mean ambient temperature shifts the day's temperatures; the duty stays the same"),
        ("A year", "365 days; days without work are rest at ambient temperature"),
        ("Ageing", "each law's wear adds up in its own measure, month by month, with capacity and resistance fed back"),
        ("Cells", "all cells of a source are equal; each is taken as hot as the hottest, by the hot-spot offset"),
        ("End of life", _limits(detail)),
        ("Search", f"lives are searched for {LIFE_SEARCH_YEARS:.0f} years; beyond that the answer is “not reached”"),
    ]
    return rows + _cost_rows(detail)


def _span(values: list[float], unit: str) -> str:
    low, high = f"{min(values):.3g}", f"{max(values):.3g}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _climate(service: Mapping[str, Any]) -> str:
    means = service["ambient_C"]
    name = f"{printable(service['climate'])}: " if service["climate"] else ""
    if len(set(means)) == 1:
        return f"{name}{means[0]:g} °C all year"
    return name + ", ".join(f"{month} {value:.1f}" for month, value in zip(_MONTHS, means, strict=True)) + " °C"


def _history(one: Mapping[str, Any]) -> str:
    how = {"linear": "are linear", "zero_order_hold": "are kept (zero-order hold)"}[one["interpolation"]]
    heat = "; measured temperature is used" if one["has_temperature"] else ""
    sign = one["columns"]["discharge_is"]
    size = f"{one['samples']:,} samples over {one['duration_s']:,.0f} s"
    return f"{one['driven_by']} drives it; values {how} between {size}; {sign} means discharge in the file{heat}"


def _thermal(detail: Mapping[str, Any], part: str) -> str:
    path = detail["study"].get(part, {}).get("thermal")
    if path is None:
        return "no thermal model: at ambient temperature, or at the measured one where a history has it"
    return (
        f"one lumped mass, heated by I²R, {path['resistance_K_per_W']:g} K/W to ambient, "
        f"{path['heat_capacity_J_per_K']:g} J/K; the hottest cell {path.get('hot_spot_K', 0.0):g} K above the mean "
        "while loaded"
    )


def _limits(detail: Mapping[str, Any]) -> str:
    battery, bank = _limit_percents(detail, "battery"), _limit_percents(detail, "ultracapacitor")
    words = f"battery at {battery[0]} capacity or {battery[1]} resistance"
    if detail["sets"]["ultracapacitor"] is not None:
        words += f"; bank at {bank[0]} capacitance or {bank[1]} ESR"
    return words + "; or when the pack no longer delivers its day; whichever comes first"


def _limit_percents(detail: Mapping[str, Any], part: str) -> tuple[str, str]:
    limits = detail["limits"][part]
    return f"{100.0 * limits['capacity_fraction']:g} %", f"{100.0 * limits['resistance_ratio']:g} %"


def _cost_rows(detail: Mapping[str, Any]) -> list[Row]:
    cost = detail["cost"]
    left = (
        "the value left at the end of service counts, straight-line"
        if cost["residual_value"]
        else "what is left at the end of service counts nothing"
    )
    rate = f"{100.0 * cost['discount_rate']:g} % a year"
    method = (
        f"life-cycle cost after ASTM E917 and NIST Handbook 135 at a real rate of {rate}, in prices of today; first "
        f"purchase today and undiscounted, each replacement when it falls due; {left}"
    )
    price = f"{cost['electricity_per_kWh']:g} {printable(cost['currency'])} per kWh"
    return [("Cost", method), ("Energy lost", f"heat of both sources at {price}")]
