"""What a strategy's working day amounts to, seen from the machine."""

import numpy as np

from lifetime.assessment.energy_balance import energy_balance
from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.traces import DrivetrainTraces
from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.costing.ranking import TripFigures
from lifetime.stress.source import Source


def trip_figures(name: str, drivetrain: Drivetrain, traces: DrivetrainTraces) -> TripFigures:
    """Energy at the machine, duration and net charge of a working day, or of the mean day of a log.

    Args:
        name: The strategy's name.
        drivetrain: Its sources.
        traces: Their traced days.
    """
    day, source = traces.battery.new, drivetrain.battery.source
    energy = energy_balance(day.drive, source).terminal_J
    stored = 0.0
    if traces.ultracapacitor is not None and drivetrain.ultracapacitor is not None:
        balance = energy_balance(traces.ultracapacitor.new.drive, drivetrain.ultracapacitor.source)
        energy += balance.terminal_J
        stored = balance.stored_J
    energy -= sum(one.lost_J for one in traces.passes)
    # A log of weeks counts as often as it fits into the time; its mean day is told.
    days = day.length_s / SECONDS_PER_DAY
    open_As, moved_As = day.open_charge_As / days, 0.5 * day.throughput_As / days
    return TripFigures(
        name=name,
        energy_kWh=energy / days / JOULES_PER_KWH,
        duration_s=day.drive.duration_s / days,
        net_battery_charge_Ah=open_As / SECONDS_PER_HOUR,
        net_ultracapacitor_energy_kWh=stored / days / JOULES_PER_KWH,
        net_battery_energy_kWh=open_As * _halfway_V(source, day.open_charge_As) / JOULES_PER_KWH,
        moved_kWh=moved_As * _halfway_V(source, day.drive.drawn_As) / JOULES_PER_KWH,
    )


def _halfway_V(source: Source, drawn_As: float) -> float:
    """Open-circuit voltage where half of a charge is drawn from the day's start [V]."""
    soc = min(max(source.start_soc - 0.5 * drawn_As / source.capacity_As, 0.0), 1.0)
    return float(source.open_circuit_V(np.array([soc]))[0])
