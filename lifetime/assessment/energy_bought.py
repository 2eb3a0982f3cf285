"""Energy that a strategy buys: what drive, losses and refilling of both stores take from the meter."""

import numpy as np

from lifetime.assessment.energy_balance import energy_balance
from lifetime.assessment.setups import Drivetrain, UltracapacitorSetup, YearlyDuty
from lifetime.assessment.traces import DrivetrainTraces
from lifetime.constants import DAYS_PER_YEAR, HOURS_PER_DAY, JOULES_PER_KWH, SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.costing.energy import EnergyBought, RefillPath
from lifetime.results.records import SourceResult
from lifetime.stress.day import Day
from lifetime.stress.source import Source

_ENERGY_POINTS = 65


def energy_bought(
    drivetrain: Drivetrain,
    traces: DrivetrainTraces,
    yearly: YearlyDuty,
    charger_efficiency: float,
    battery: SourceResult,
    bank: SourceResult | None,
) -> EnergyBought:
    """Energy bought in a year.

    A pack that is charged from outside buys what it delivers and loses, at the meter; what converters, inverters and
    windings lose is part of what it delivers. One that is not, and a log of everything, in which charging and
    regeneration look alike, buys what both sources lose, and what is lost between them and the machine. Braking that no
    source takes is missing from what a charged pack delivers on balance, and so is bought already; elsewhere it is a
    loss like heat. Traction that a charged pack does not serve is bought all the same, so that no strategy is cheaper
    for doing less. What holds a coolant's setpoint is drawn at the meter, through the charger where there is one, not
    from the battery.

    Args:
        drivetrain: The sources.
        traces: Their traced days.
        yearly: How often they are worked.
        charger_efficiency: From the meter to the battery's terminals [0.01..1].
        battery: What became of the battery; its losses are means over the service.
        bank: What became of the bank, or None.
    """
    day, source = traces.battery.new, drivetrain.battery.source
    served = traces.battery.in_service(yearly.service_years)
    charging_A = drivetrain.battery.charging.current_A
    runs = yearly.runs_per_year
    friction_kWh = runs * sum(
        share * (0.0 if feasible is None else feasible.friction_kWh) for share, _, feasible in served
    )
    converter_kWh = _converter_J(traces, yearly.service_years) / JOULES_PER_KWH * runs
    if charging_A is None:
        losses_kWh = battery.energy_losses_kWh_per_year + (bank.energy_losses_kWh_per_year if bank else 0.0)
        return EnergyBought(
            losses_kWh + friction_kWh + converter_kWh,
            friction_kWh_per_year=friction_kWh,
            converter_kWh_per_year=converter_kWh,
            coolant_kWh_per_year=_coolant_kWh_per_year(source, yearly, battery),
        )
    bank_setup = drivetrain.ultracapacitor
    path = RefillPath(
        charger_efficiency,
        _charging_efficiency(day, source),
        1.0 if bank_setup is None else bank_setup.refill_efficiency,
    )
    days = [(share * runs / JOULES_PER_KWH, one) for share, one, _ in served]
    open_kWh = sum(times * _stored_J(source, 0.0, one.open_charge_As) for times, one in days)
    delivered_kWh = sum(times * energy_balance(one.drive, source).terminal_J for times, one in days)
    delivered_kWh += runs * sum(share * feasible.unserved_kWh for share, _, feasible in served if feasible is not None)
    charged_kWh = delivered_kWh + battery.energy_losses_kWh_per_year - open_kWh
    stood_kWh = 0.0
    if bank_setup is not None and traces.ultracapacitor is not None:
        stood_kWh = sum(
            share * _bank_kWh_per_year(bank_setup, one, runs, path)
            for share, one, _ in traces.ultracapacitor.in_service(yearly.service_years)
        )
    return EnergyBought(
        charged_kWh / charger_efficiency,
        path.into_battery(open_kWh),
        stood_kWh,
        friction_kWh_per_year=friction_kWh / charger_efficiency,
        converter_kWh_per_year=converter_kWh / charger_efficiency,
        coolant_kWh_per_year=_coolant_kWh_per_year(source, yearly, battery) / charger_efficiency,
    )


def _converter_J(traces: DrivetrainTraces, service_years: float) -> float:
    """What converters, inverters and windings lose on a day [J], mean over the service as the bank wears."""
    new_J = sum(one.lost_J for one in traces.passes)
    beside = [one for one in traces.battery.beside if not one.months]
    return new_J + sum(one.share.mean(service_years) * (one.lost_J - new_J) for one in beside)


def _coolant_kWh_per_year(source: Source, yearly: YearlyDuty, battery: SourceResult) -> float:
    """What heater and cooler take [kWh/year]; the pack's own heat is spread evenly over the year."""
    if source.coolant is None:
        return 0.0
    hours = DAYS_PER_YEAR * HOURS_PER_DAY
    own_heat_W = battery.energy_losses_kWh_per_year * JOULES_PER_KWH / (hours * SECONDS_PER_HOUR)
    mean_W = float(source.coolant.power_W(yearly.ambient_K, own_heat_W).mean())
    return mean_W * hours * SECONDS_PER_HOUR / JOULES_PER_KWH


def _charging_efficiency(day: Day, source: Source) -> float:
    """Share of what charging brings to the terminals that arrives in the battery; 1 where nothing is charged."""
    stored_J = _stored_J(source, day.open_charge_As, day.drive.drawn_As)
    drive = day.drive
    charging_A2s = max(day.heat_A2s - drive.heat_A2s - drive.stored_A2s, 0.0)
    heat_J = source.resistance_ohm * drive.resistance_ratio * charging_A2s
    return stored_J / (stored_J + heat_J) if stored_J > 0.0 else 1.0


def _stored_J(source: Source, from_As: float, to_As: float) -> float:
    """Energy between two charges drawn, by the open-circuit voltage of the new source [J]."""
    charge = np.linspace(from_As, to_As, _ENERGY_POINTS)
    voltage = source.open_circuit_V(np.clip(source.start_soc - charge / source.capacity_As, 0.0, 1.0))
    return float(np.trapezoid(voltage, charge))


def _bank_kWh_per_year(setup: UltracapacitorSetup, day: Day, runs_per_year: float, path: RefillPath) -> float:
    """What the bank takes from the meter while the vehicle stands [kWh/year]."""
    start_J = _content_J(setup, setup.start_voltage_V)
    end_J = start_J - energy_balance(day.drive, setup.source).stored_J
    rest_J = start_J if setup.charging.whole_log else _content_J(setup, setup.rest_voltage_V)
    day_J = 0.0
    for taken_J in (start_J - rest_J, rest_J - end_J):
        if taken_J > 0.0 or setup.returns_energy:
            day_J += path.into_bank(taken_J)
    standing_J = path.into_bank(setup.standby_W * SECONDS_PER_DAY) * DAYS_PER_YEAR
    return (day_J * runs_per_year + standing_J) / JOULES_PER_KWH


def _content_J(setup: UltracapacitorSetup, voltage_V: float) -> float:
    return 0.5 * setup.bank.capacitance_F * voltage_V**2
