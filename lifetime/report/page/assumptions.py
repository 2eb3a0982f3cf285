"""What a result rests on, in words: the service and duty, the pack, the assumptions."""

from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.costing.terms import Residual
from lifetime.report.page.sets import used_sets
from lifetime.report.words import PARTS
from lifetime.results.document import ResultDocument
from lifetime.results.parameters import CoolantView, ParameterSetView, ThermalView
from lifetime.results.study import CostTermsView, CountingView, HealthLimits, HistoryView, ServiceView
from lifetime.text import MONTH_NAMES, clock_time, percent, printable, significant

Row = tuple[str, str]

_RESIDUALS: dict[Residual, str] = {
    "straight_line": "the residual value at the end of service counts, straight-line",
    "second_life": "the residual value at the end of service is the second-life value",
    "none": "the residual value at the end of service is taken as 0",
}

_RUNS = {"linear": "linear interpolation", "zero_order_hold": "zero-order hold"}


def service_facts(document: ResultDocument) -> list[Row]:
    """How long and how hard the vehicle works.

    Args:
        document: The result document.
    """
    service = document.study.service
    whole = service.histories_cover == "everything"
    days = "whole histories, scaled to a year" if whole else f"{service.working_days_per_year:g} working days"
    rows = [("Service life", f"{service.years:g} years of {days}")]
    if service.distance_km_per_day is not None:
        rows.append(("Distance", f"{service.distance_km_per_day:g} km per working day"))
    hours = _span([one.trip.driving_duration_s_per_day / 3600.0 for one in document.strategies], "h")
    energy = _span([one.trip.energy_kWh_per_day for one in document.strategies], "kWh")
    repeats = service.drive_repeats
    times = f"; the histories are driven {repeats} times a day" if repeats > 1 else ""
    rows.append(("Driving", f"{hours} per working day, {energy} net to the drive{times}"))
    if service.charge_c_rate is None or service.charge_to_soc is None:
        rows.append(("Charging", "none from outside"))
    else:
        to_soc = 100.0 * service.charge_to_soc
        when = "after the drive"
        if service.charge_ends_at_hour is not None:
            when = f"ending at {clock_time(service.charge_ends_at_hour)}"
        rows.append(("Charging", f"{when} at {service.charge_c_rate:g} C to {to_soc:g} % state of charge"))
    if service.drive_starts_at_hour is not None:
        rows.append(("Start of the drive", clock_time(service.drive_starts_at_hour)))
    rows.append(("Climate", _climate(service)))
    return rows


def pack_facts(document: ResultDocument) -> list[Row]:
    """What the battery and the ultracapacitor bank are made of.

    Args:
        document: The result document.
    """
    return [(PARTS[part], _pack(one)) for part, one in used_sets(document)]


def assumption_rows(document: ResultDocument) -> list[Row]:
    """Every rule and choice that decides the numbers.

    Args:
        document: The result document.
    """
    study = document.study
    rows = [
        (
            "Counting",
            "rainflow after ASTM E1049; each working day is a repeating history (5.4.5), so all cycles close; "
            + _smallest_cycle(study.counting),
        )
    ]
    rows += [(f"Samples of {printable(one.name)}", _history(one)) for one in study.histories]
    rows += [(f"Temperature, {PARTS[part].lower()}", _thermal(one.pack.thermal)) for part, one in used_sets(document)]
    rows += [("Coolant", _coolant(one.pack.coolant)) for _, one in used_sets(document) if one.pack.coolant is not None]
    rows += [
        ("Seasons", _seasons(document.study.service)),
        ("A year", "365 days; days without work are rest at ambient temperature"),
        (
            "Ageing",
            "each model accumulates its own measure month by month; capacity and resistance feed back on the day",
        ),
        ("Cells", "all cells of a source are equal; each is as hot as the hottest, by the hot-spot offset"),
        ("End of life", _limits(document)),
        ("Search limit", f"lives are searched up to {LIFE_SEARCH_YEARS:.0f} years"),
    ]
    if any(one.reference_split is not None for one in document.strategies):
        minimises = (
            "minimises the rms of the battery's power with a lossless bank of the same energy window; it minimises "
            "neither ageing nor cost, so a strategy may age the battery less or cost less"
        )
        rows.append(("Least-rms split", minimises))
    return rows + _cost_rows(study.cost)


def _pack(one: ParameterSetView) -> str:
    pack = one.pack
    words = [f"{one.title}, {pack.series} in series, {pack.parallel} in parallel"]
    if pack.capacitance_F is None:
        words.append(f"{significant(pack.capacity_Ah)} Ah")
    else:
        words.append(f"{significant(pack.capacitance_F)} F")
    words.append(f"{significant(pack.nominal_voltage_V)} V, {significant(pack.energy_kWh)} kWh")
    words.append(f"{significant(1000.0 * pack.resistance_ohm)} mΩ by the cells")
    if pack.mass_kg is not None:
        words.append(f"{significant(pack.mass_kg)} kg of cells")
    return "; ".join(words)


def _smallest_cycle(counting: CountingView) -> str:
    threshold = counting.smallest_battery_depth_of_discharge
    if threshold <= 0.0:
        return "every cycle counts, however small"
    return f"battery cycles of {100.0 * threshold:g} % depth of discharge or less are left out; their effect is stated"


def _span(values: list[float], unit: str) -> str:
    low, high = significant(min(values)), significant(max(values))
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _seasons(service: ServiceView) -> str:
    anew = "; a demand is split anew for months with other limits"
    if service.climate_is_hourly:
        return f"each month's hours, as three temperatures with their shares, shift the day's temperatures{anew}"
    return f"each month's mean ambient temperature shifts the day's temperatures{anew}"


def _climate(service: ServiceView) -> str:
    means = service.ambient_C
    name = f"{printable(service.climate)}: " if service.climate else ""
    if len(set(means)) == 1:
        return f"{name}{means[0]:g} °C all year"
    hours = "; every hour of the year counts" if service.climate_is_hourly else ""
    values = ", ".join(f"{month} {value:.1f}" for month, value in zip(MONTH_NAMES, means, strict=True))
    return f"{name}{values} °C{hours}"


def _history(one: HistoryView) -> str:
    heat = "; measured temperature is used" if one.has_temperature else ""
    sign = one.columns["discharge_is"]
    size = f"{one.samples:,} samples over {one.duration_s:,.0f} s"
    return f"driven by {one.driven_by}; {size}, {_RUNS[one.interpolation]}; {sign} means discharge in the file{heat}"


def _thermal(path: ThermalView | None) -> str:
    if path is None:
        return "no thermal model: ambient temperature, or the measured one where a history has it"
    return (
        f"one lumped mass, heated by I²R, {path.resistance_K_per_W:g} K/W to ambient, "
        f"{path.heat_capacity_J_per_K:g} J/K; the hottest cell {path.hot_spot_K:g} K above the mean while loaded"
    )


def _coolant(coolant: CoolantView) -> str:
    parts = [
        f"{what} (heat per energy {cop:g})"
        for what, cop in (("a heater", coolant.heating_cop), ("a cooler", coolant.cooling_cop))
        if cop is not None
    ]
    return (
        f"held at {coolant.setpoint_C:g} °C day and night by {' and '.join(parts)}, against "
        f"{coolant.resistance_K_per_W:g} K/W to ambient air; its energy is bought"
    )


def _limits(document: ResultDocument) -> str:
    limits = document.study.end_of_life
    battery, corner = _limit_percents(limits.battery), limits.battery_power
    words = f"battery at {battery[0]} capacity or {battery[1]} resistance"
    if corner is not None:
        words += (
            f", or when it no longer gives the strategy's own power for {significant(corner.duration_s)} s at "
            f"{percent(corner.soc)} state of charge and {significant(corner.temperature_C)} °C"
        )
    if document.study.parameter_sets.ultracapacitor is not None:
        bank = _limit_percents(limits.ultracapacitor)
        words += f"; ultracapacitor bank at {bank[0]} capacitance or {bank[1]} ESR"
    return words + "; or when the requirement of power or energy is no longer met; whichever comes first"


def _limit_percents(limits: HealthLimits) -> tuple[str, str]:
    return f"{100.0 * limits.capacity_fraction:g} %", f"{100.0 * limits.resistance_ratio:g} %"


def _cost_rows(cost: CostTermsView) -> list[Row]:
    left = _RESIDUALS[cost.residual_value]
    method = (
        f"life-cycle cost after ASTM E917 and NIST Handbook 135 at a real rate of {100.0 * cost.discount_rate:g} % "
        f"per year, in constant prices of today; first purchase today and undiscounted, each replacement when it falls "
        f"due; {left}"
    )
    price = f"{significant(cost.electricity_per_kWh)} {printable(cost.currency)}/kWh"
    bought = "all energy bought at the charger, or the energy lost where nothing is charged from outside"
    return [("Cost", method), ("Energy", f"{bought}, at {price}")]
