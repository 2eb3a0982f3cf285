"""What a strategy's working day amounts to, seen from the machine."""

from lifetime.assessment.energy_balance import energy_balance
from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.traces import DrivetrainTraces
from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_HOUR
from lifetime.costing.ranking import TripFigures


def trip_figures(name: str, drivetrain: Drivetrain, traces: DrivetrainTraces) -> TripFigures:
    """Energy, duration and net charge of a working day; the energy is that at the machine.

    Args:
        name: The strategy's name.
        drivetrain: Its sources.
        traces: Their traced days.
    """
    day = traces.battery.new
    energy = energy_balance(day.drive, drivetrain.battery.source).terminal_J
    stored = 0.0
    if traces.ultracapacitor is not None and drivetrain.ultracapacitor is not None:
        balance = energy_balance(traces.ultracapacitor.new.drive, drivetrain.ultracapacitor.source)
        energy += balance.terminal_J
        stored = balance.stored_J
    energy -= sum(one.lost_J for one in traces.passes)
    return TripFigures(
        name=name,
        energy_kWh=energy / JOULES_PER_KWH,
        duration_s=day.drive.duration_s,
        net_battery_charge_Ah=day.open_charge_As / SECONDS_PER_HOUR,
        net_ultracapacitor_energy_kWh=stored / JOULES_PER_KWH,
        battery_throughput_Ah=day.throughput_As / SECONDS_PER_HOUR,
    )
